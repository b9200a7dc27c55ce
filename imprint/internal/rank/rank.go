// Package rank orders numbers: medians and quantiles as a picture's values need them, without a mean between
// neighbours. It knows nobody; gonum/stat has the other kinds.
package rank

import (
	"cmp"
	"math"
	"slices"
)

// Sorted is a sorted copy.
func Sorted[T cmp.Ordered](v []T) []T {
	s := slices.Clone(v)
	slices.Sort(s)
	return s
}

// Median is the middle value, the upper one of two; NaN of nothing.
func Median(v []float64) float64 {
	if len(v) == 0 {
		return math.NaN()
	}
	s := Sorted(v)
	return s[len(s)/2]
}

// Quantile32 is the value that a share p of the values lie below. It is NaN where any value is: half a patch
// out of the picture is no patch.
func Quantile32(v []float32, p float64) float64 {
	s := Sorted(v) // NaN first
	if s[0] != s[0] {
		return float64(s[0])
	}
	return float64(s[int(p*float64(len(s)))])
}

// Quantile is the value that a share p of the values lie below, from 0 to 1; NaN of nothing.
func Quantile(v []float64, p float64) float64 {
	if len(v) == 0 {
		return math.NaN()
	}
	return Sorted(v)[min(len(v)-1, int(p*float64(len(v))))]
}
