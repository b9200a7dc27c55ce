// Package imprint measures the distance between the two deepest points of a seat imprint, from one photo or scan of it with
// the control frame, in millimetres, with its uncertainty budget.
//
// Its opinion: data flows one way, photo -> [Plane] -> [Depression] -> spacing, and after the depressions no pixel exists. A
// number that cannot be trusted is refused or sent to review, with what was seen, what is needed and what to do
// ([Reason]); what only weakens a result is a [Warning] that says what would remove it. The parallax of the dents' depth is
// always corrected and always on the budget: uncorrected it reads short, on the side that hurts the rider.
//
// Lengths are mm in the frame's axes (origin at the window's centre, x right, y down, front edge up), pixels are those of
// the upright picture with integers at the pixels' centres. Uncertainties are standard uncertainties unless called expanded.
package imprint
