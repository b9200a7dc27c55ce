// Package calibration holds what ties a photograph to true millimetres and is
// not in the photograph: the printed control frame's geometry and its codes,
// the verification of one print of it with a steel rule, and the profiles of
// the pads that take the imprint.
//
// Its opinion: nothing here is taken on trust without a standard uncertainty
// beside it. A print that nobody measured has a scale of 1 and an uncertainty
// that says so; a pad's depth is an assumption until the shop replaces it by
// readings of its own; and each such assumption is named as one where it stands.
//
// All lengths are in millimetres; there are no pixels in this package. The
// frame's axes have their origin at the centre of the window, x to the right
// and y down, seen from above with the front edge (marks 0 to 4) up.
package calibration
