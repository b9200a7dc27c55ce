package proof

import (
	"math"

	"gonum.org/v1/gonum/stat"
)

// Pair is what is known of the two dents, to tell one ball, or unequal ones, from a pair.
type Pair struct {
	ContrastMM, ContrastU float64 // depth right minus left; u 0 where it is not known
	// of the left and right dent, 1/mm: of the paraboloid that fits it over ReachMM; 0 where not known
	Curvature, CurvatureU [2]float64
	ReachMM               float64
}

// Bounds of a pair. A batten that is held by hand is level to some 2 degrees, 4 mm over 120 mm (assumed).
//
// How far two curvatures are apart that one surface shows is surer than how far those of equal balls are: the
// draws of the surface leave 1 to 9 % open, and over eleven rendered pairs the logarithms of the ratios were
// 0.062 rms, which is taken. Nine more pairs, rendered later, had 0.050. Three standard uncertainties are a
// factor of 1.2 or more.
const (
	mostContrastMM = 4
	ballsU         = 0.06 // relative, of the ratio of equal balls' curvatures, beside the draws
	ballsCoverage  = 3
)

// Alike tells whether the dents can be of two equal balls that were pressed alike.
func (p Pair) Alike() bool {
	if p.ContrastU > 0 && math.Abs(p.ContrastMM)-2*p.ContrastU > mostContrastMM {
		return false
	}
	l, r := p.Curvature[0], p.Curvature[1]
	if l <= 0 || r <= 0 {
		return true
	}
	u := math.Hypot(ballsU, math.Hypot(p.CurvatureU[0]/l, p.CurvatureU[1]/r))
	return math.Abs(math.Log(l/r)) <= ballsCoverage*u
}

// Balls of these diameters are told by their dents, mm: a smaller one's side is steeper than a dent shows.
const leastBall, mostBall = 26.0, 150.0

// BallMM is the diameter of balls that would leave dents of such curvatures, mm; 0 where that is not known.
func (p Pair) BallMM() float64 {
	mean := (p.Curvature[0] + p.Curvature[1]) / 2
	if p.Curvature[0] <= 0 || p.Curvature[1] <= 0 || p.ReachMM <= 0 || leastBall/2 <= p.ReachMM ||
		mean > sphere(leastBall/2, p.ReachMM) || mean < sphere(mostBall/2, p.ReachMM) {
		return 0
	}
	low, high := leastBall, mostBall
	for high-low > 0.1 {
		if middle := (low + high) / 2; sphere(middle/2, p.ReachMM) > mean {
			low = middle
		} else {
			high = middle
		}
	}
	return low
}

// sphere is the curvature, 1/mm, of the paraboloid that fits a sphere's bottom over a circle of a radius, mm.
func sphere(radius, reach float64) float64 {
	const steps = 100
	var squares, depths [steps]float64
	for k := range steps { // even steps of r^2: even over the circle's area
		squares[k] = reach * reach * (float64(k) + 0.5) / steps
		depths[k] = math.Sqrt(radius*radius - squares[k])
	}
	_, slope := stat.LinearRegression(squares[:], depths[:], nil, false)
	return -2 * slope
}

// ballLike is by which factor a stated diameter may differ from BallMM: over twenty rendered pairs, on which
// it was set, that was 0.74 to 1.12 of the true one, 11 % rms, and three times that is taken. Foam that comes
// back leaves flatter dents, so that this is a question to the fitter and no verdict.
const ballLike = 1.4

// Unlike tells that the dents do not look like balls of a stated diameter, mm.
func (p Pair) Unlike(diameterMM float64) bool {
	fitted := p.BallMM()
	return diameterMM > 0 && fitted > 0 && math.Abs(math.Log(fitted/diameterMM)) > math.Log(ballLike)
}
