package gum

import "math"

// Rectangular is the standard uncertainty of a value that lies anywhere within
// +-halfWidth with equal probability: a/sqrt(3) (JCGM 100, 4.3.7, equation 7).
// The unit is the half-width's, as in the functions below.
func Rectangular(halfWidth float64) float64 { return math.Abs(halfWidth) / math.Sqrt(3) }

// Triangular is that of a value more likely near the middle than at the
// bounds: a/sqrt(6) (JCGM 100, 4.3.9, equation 9b).
func Triangular(halfWidth float64) float64 { return math.Abs(halfWidth) / math.Sqrt(6) }

// Normal is that of a value stated with its expanded uncertainty U and the
// coverage factor k: U/k (JCGM 100, 4.3.3 and 4.3.4).
func Normal(U, k float64) float64 { return math.Abs(U / k) }

// MeanOf evaluates repeated readings (Type A; JCGM 100, 4.2): their mean, the
// standard uncertainty of the mean s/sqrt(n), and its degrees of freedom n-1.
// One reading has no spread to judge by: u and dof are then NaN, which
// Budget.Check refuses.
func MeanOf(readings []float64) (mean, u, dof float64) {
	n := float64(len(readings))
	for _, r := range readings {
		mean += r / n
	}
	if n < 2 {
		if n == 0 {
			mean = math.NaN()
		}
		return mean, math.NaN(), math.NaN()
	}
	squares := 0.0
	for _, r := range readings {
		squares += (r - mean) * (r - mean)
	}
	return mean, math.Sqrt(squares / (n - 1) / n), n - 1
}
