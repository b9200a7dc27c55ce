// Package ink finds the points of highest pressure of the two marks that a rider leaves on pressure-marking
// paper.
//
// Its opinion: ink saturates and grain hides the top, so the darkest spot is not the answer. The whole mark,
// flanks and rim included, says where its top is, if one is willing to say what marks look like. So the
// density of the ink is taken to be a saturating function of a pressure surface: on either side a dent
// (centre, two widths, direction, how flat its top is, one end pressed harder than the other) in a broad
// basin of soft tissue, both sides alike but for some looseness, and on top of that a field of small bumps.
// Four families of dents compete (a bell, a ball pressed into a half space, a long ridge, and one with
// little settled), and in a scan a body worked out from mechanics (body.go), each by its evidence, and
// the answer is the mean over what all of them leave possible: of a mark with a flat top the middle of
// what is possible, with an uncertainty that says so.
//
// In a photo (FitPhoto) each family is also tried in a light that gleams on the sheet and burns the paper
// out; the evidence says how much to believe of that.
//
// The point reported is the top of the surface, basin included, not the middle of the dent and not the middle
// of the dark patch: that of the quadratic that fits the surface best over 4 mm to either side.
//
// Axes are the frame's: x right, y down, seen from above with the front edge up; lengths in mm. Light is
// linear and needs no absolute scale.
//
// # Out of scope
//
// A dent of a shape far from all families, such as flanks of a power law: on 16 drawn marks of that kind
// the distance came out 1.4 mm off (rms; the worst 4.8). Before there were four, domes that end at a sharp
// rim were 1.5 to 3 mm off while the reading claimed 1; they are read to 0.9 now. Nothing here notices a
// strange shape.
//
// A rider who slid far enough to leave two marks a side is counted as too many marks. A short slide widens
// both marks alike and hardly moves the distance between them; it is not reported.
package ink
