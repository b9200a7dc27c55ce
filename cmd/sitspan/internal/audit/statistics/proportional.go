package statistics

import (
	"math"

	"sitspan/calibration/precision"
)

// proportional is the line of the differences on the width: a way that reads wide
// riders wider has a slope. nil where there are too few.
//
// The width is the mean of reading and measurement with the inverse of their
// variances as weights, for its error does not go with the difference's. The plain
// mean's does where one scatters more than the other: a reading that is too wide by
// chance has a larger difference and a larger mean. The readings' variance is what
// the measurements' leaves of the differences'.
func proportional(pairs []*Pair) *Slope {
	var widths, differences []float64
	var variance float64 // the new measurements', mm²
	for _, p := range pairs {
		differences = append(differences, p.Difference)
		variance += p.U * p.U / 4
	}
	variance /= float64(len(pairs))
	if len(pairs) < 3 {
		return nil
	}
	share := 0.5 // of the reading in the width
	if all := math.Pow(precision.SD(differences), 2); all > 0 {
		share = math.Min(1, variance/all)
	}
	for _, p := range pairs {
		widths = append(widths, p.Now+share*p.Difference)
	}
	line, ok := lineOf(widths, differences, ridersOf(pairs))
	if !ok {
		return nil
	}
	return &line
}
