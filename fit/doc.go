// Package fit chooses a saddle's width, and a saddle, from the distance
// between the sit bones.
//
// It knows no pixel, no frame and no picture: what comes in is a spacing in
// millimetres with its uncertainty budget, a posture, a rider and a stock.
//
// The opinion of this package:
//
//   - The width is chosen by probability (JCGM 106), not by rounding: the
//     smallest stocked width W with P(required <= W) >= level. Where that
//     differs from plain rounding up, it says so and shows both.
//   - Nothing is rounded down in silence, and nothing is ranked by a hidden
//     number: models are put in order by one stated reason after the other.
//   - What is common practice, what is our assumption and what a paper
//     supports is kept apart, beside each number and each text.
//   - Reasons, notes and cautions are values (a code with parameters); their
//     wording is nothing that this package knows.
//
// The package advises a fitter. It diagnoses nobody: numbness, any loss of
// sensation and one-sided pain belong to a physician or physiotherapist, and
// the limits that the makers of saddle, seat post and frame give always hold.
package fit
