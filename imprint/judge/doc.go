// Package judge says what a picture, a reading and a number must keep to be used: every bound in one table,
// each with its unit, what it rests on, what it was set on, and since when; and the verdict that they lead
// to.
//
// Its opinion: a number that cannot be trusted is refused or sent to review, with what was seen, what is
// needed and what to do; what only weakens a result is a warning that says what would remove it.
//
// What may live here: bounds and verdicts. What may not: measuring anything, a sentence, a picture.
package judge
