// Package words holds everything that sitspan says to people, in each of its
// languages: a file a language (lang/en.json), a key a code, and the way in
// which each language writes numbers and dates (golang.org/x/text).
//
// It knows no other package of ours. Whoever has something to say keeps a code
// and values, an error too; the sentence is made here, at the edge. What may be said: no
// diagnosis, no promise, no number without its basis; a fact of the trade is
// called common practice, an assumption of ours an assumption.
//
// The keys begin with who speaks: reason.CODE.seen and reason.CODE.do,
// warning.CODE.seen and warning.CODE.do, influence.CODE, basis.CODE,
// rejected.CODE, advice.CODE and why.CODE (the measurement); note.CODE and
// term.NAME (the choice of a width); sheet., explain., plot., terminal., desk.,
// overlay., audit., known. and timing. (where it is read); error. and usage. (what went
// wrong, and what was called wrongly: see Fault); help. (the commands' help);
// date., month. and language.
//
// A place in a text is {name} or {name|format}; formatted lists the formats.
package words
