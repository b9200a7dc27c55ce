package precision

import (
	"math"
	"slices"
)

// Median is the middle of the values, or the mean of the middle two; NaN for none.
func Median(values []float64) float64 {
	n := len(values)
	if n == 0 {
		return math.NaN()
	}
	sorted := slices.Sorted(slices.Values(values))
	return (sorted[(n-1)/2] + sorted[n/2]) / 2
}

// RepeatedMedians is a straight line of y on x that up to half of the points cannot
// pull away (Siegel, Biometrika 69 (1982) 242-244): the slope is the median over the
// points of the median of a point's slopes to all others, the intercept the median of
// what is left. Points at one place have no slope to one another. It takes time with
// the square of the points; NaN where all are at one place.
func RepeatedMedians(x, y []float64) (slope, intercept float64) {
	medians := make([]float64, 0, len(x))
	slopes := make([]float64, 0, len(x))
	for i := range x {
		slopes = slopes[:0]
		for k := range x {
			if x[k] != x[i] {
				slopes = append(slopes, (y[k]-y[i])/(x[k]-x[i]))
			}
		}
		if len(slopes) > 0 {
			medians = append(medians, Median(slopes))
		}
	}
	slope = Median(medians)
	rest := make([]float64, len(x))
	for i := range x {
		rest[i] = y[i] - slope*x[i]
	}
	return slope, Median(rest)
}
