package spacing

import "sitspan/imprint/judge"

// Plausible tells whether a distance in mm may be that of a person's sit bones.
func Plausible(mm float64) bool {
	return mm >= judge.LeastSpacing.Value && mm <= judge.MostSpacing.Value
}
