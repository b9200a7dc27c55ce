package leastsquares

import (
	"math"
	"slices"

	"gonum.org/v1/gonum/floats"
)

// loss is half the sum of squares or, beyond the threshold, Huber's linear
// continuation of it; +Inf where any residual is not finite.
func (s *search) loss(residuals []float64) float64 {
	sum := 0.0
	if c := s.options.Huber; c > 0 {
		for _, r := range residuals {
			if a := math.Abs(r); a > c {
				sum += c * (2*a - c)
			} else {
				sum += r * r
			}
		}
	} else {
		sum = floats.Dot(residuals, residuals)
	}
	if math.IsNaN(sum) {
		return math.Inf(1)
	}
	return sum / 2
}

// weigh sets the weights with which least squares has the same gradient as
// Huber's loss: iteratively reweighted least squares (Holland and Welsch,
// Communications in Statistics A6 (1977) 813-827).
func (s *search) weigh() {
	c := s.options.Huber
	for i, r := range s.residuals {
		s.weights[i] = 1
		if a := math.Abs(r); c > 0 && a > c {
			s.weights[i] = c / a
		}
	}
}

// weightedSD is sqrt(sum of w r^2 / DoF).
func (s *search) weightedSD() float64 {
	sum := 0.0
	for i, r := range s.residuals {
		sum += s.weights[i] * r * r
	}
	return math.Sqrt(sum / float64(len(s.residuals)-len(s.at)))
}

// residualSD is the factor whose square turns (J^T J)^-1 into the parameters'
// covariance. For Huber's loss it is
//
//	K sqrt(sum psi^2 / (m - n)) / mean psi',  K = 1 + n/m (1 - mean psi') / mean psi'
//
// (Huber, Robust Statistics, 1981, section 7.6; section from memory, the book settles it), with psi the
// clipped residual and mean psi' the share of residuals within the threshold.
// Without a threshold this is sqrt(sum r^2 / (m - n)).
func (s *search) residualSD() float64 {
	m, n := float64(len(s.residuals)), float64(len(s.at))
	sum, inliers := 0.0, 0.0
	for i, r := range s.residuals {
		psi := s.weights[i] * r
		sum += psi * psi
		if s.weights[i] == 1 {
			inliers++
		}
	}
	share := inliers / m
	k := 1 + n/m*(1-share)/share
	return k * math.Sqrt(sum/(m-n)) / share
}

// RobustSD estimates the standard deviation of residuals of zero mean from
// their median magnitude, 1.4826 times it, which half the residuals being
// outliers cannot carry away; the unit is the residuals'. NaN for none.
func RobustSD(residuals []float64) float64 {
	if len(residuals) == 0 {
		return math.NaN()
	}
	sizes := make([]float64, len(residuals))
	for i, r := range residuals {
		sizes[i] = math.Abs(r)
	}
	slices.Sort(sizes)
	mid := len(sizes) / 2
	median := sizes[mid]
	if len(sizes)%2 == 0 {
		median = (sizes[mid-1] + sizes[mid]) / 2
	}
	return 1.482602218505602 * median // 1 / normal quantile of 3/4
}
