package cv

import "math"

// The normal distribution function and its density, tabulated: an edge's fit asks for both millions of times
// a picture.
const (
	phiReach = 8.0 // beyond, 1e-15 is left
	phiSteps = 64  // for each unit
)

// phiNode is Phi and its density.
type phiNode struct{ v, density float64 }

var phiTable = func() (t [2*phiReach*phiSteps + 1]phiNode) {
	for i := range t {
		z := float64(i)/phiSteps - phiReach
		t[i] = phiNode{0.5 * math.Erfc(-z/math.Sqrt2), math.Exp(-z*z/2) / math.Sqrt(2*math.Pi)}
	}
	return t
}()

// phiOf is the normal distribution function and its density, by the cubics that have the values and the
// slopes of the table: to 4e-10 and 1e-9. A grey level of 255 moves by a ten-millionth.
func phiOf(z float64) (v, density float64) {
	at := (z + phiReach) * phiSteps
	switch {
	case !(at > 0):
		return 0, 0
	case at >= 2*phiReach*phiSteps:
		return 1, 0
	}
	const h = 1.0 / phiSteps
	i := int(at)
	a, b, t := &phiTable[i], &phiTable[i+1], at-float64(i)
	z0 := float64(i)*h - phiReach
	v = hermite(a.v, b.v, h*a.density, h*b.density, t)
	return v, hermite(a.density, b.density, -h*z0*a.density, -h*(z0+h)*b.density, t)
}

// hermite is the cubic with values a, b and slopes da, db at 0 and 1.
func hermite(a, b, da, db, t float64) float64 {
	rise := b - a
	return a + t*(da+t*(3*rise-2*da-db+t*(da+db-2*rise)))
}
