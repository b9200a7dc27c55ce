// Package imprint measures the distance between the two deepest points of a seat imprint, from photos or
// scans of it, in millimetres, with its uncertainty budget.
//
// Its opinion: data flows one way, photo -> scale -> reading -> spacing, and after the readings no pixel
// exists. A number that cannot be trusted is refused or sent to review; what only weakens a result is a
// warning. The parallax of the dents' depth is always corrected and always on the budget: uncorrected it
// reads short, on the side that hurts the rider.
//
// What may live here: [Meter] and [Measurement], which tie the rooms for one photo, several, and sittings.
// What may not: a bound (judge), a code (codes), equation (1) (spacing), finding a scale (scale), reading a
// window (reading).
//
// Lengths are mm in the frame's axes (origin at the window's centre, x right, y down, front edge up), pixels
// are those of the upright picture with integers at the pixels' centres. Uncertainties are standard
// uncertainties unless called expanded.
package imprint
