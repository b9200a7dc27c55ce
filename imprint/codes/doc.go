// Package codes is the list of all that a measurement says: reasons, warnings, influences on the
// budget, bases, and what was looked at and not used.
//
// Its opinion: a program decides by codes and never by sentences. Each code is declared once, as a
// variable, with its parameters, their units and decimals; the variables are the only way to say
// something, so that nothing is said that is not in the table. Sentences are made of code and
// parameters at the edge, in each language; rewording one changes no number.
//
// Here live names and data. No sentence, no bound and no arithmetic may live here, and nothing of
// ours is imported.
package codes
