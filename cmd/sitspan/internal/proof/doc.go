// Package proof compares measurements with distances that the shop knows: two equal balls on a batten,
// pressed into the shop's own pad, under its own lamp, with its own phone.
//
// Its opinion: a check that could not have failed proves nothing, so a pass within a wide interval is called
// that. A check that fails is not left out of the mean because it failed; a person leaves it out, and says
// why. And a bias that was found is told: it is taken off a number only where the shop has said so.
//
// Here is arithmetic only: no file, no photo, no sentence. Lengths are mm, u a standard uncertainty, U an
// expanded one at 95 %.
package proof
