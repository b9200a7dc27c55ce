// Package normal is the normal distribution function and its density, tabulated: the fits of edges and of
// dots ask for both millions of times a picture.
//
// What may live here: one function of a number. What may not: anything that knows what it is asked for.
package normal

import "math"

const (
	reach = 8.0 // beyond, 1e-15 is left
	steps = 64  // for each unit
)

// node is Phi and its density.
type node struct{ v, density float64 }

var table = func() (t [2*reach*steps + 1]node) {
	for i := range t {
		z := float64(i)/steps - reach
		t[i] = node{0.5 * math.Erfc(-z/math.Sqrt2), math.Exp(-z*z/2) / math.Sqrt(2*math.Pi)}
	}
	return t
}()

// Of is the normal distribution function and its density, by the cubics that have the values and the
// slopes of the table: to 4e-10 and 1e-9. A grey level of 255 moves by a ten-millionth.
func Of(z float64) (v, density float64) {
	at := (z + reach) * steps
	switch {
	case !(at > 0):
		return 0, 0
	case at >= 2*reach*steps:
		return 1, 0
	}
	const h = 1.0 / steps
	i := int(at)
	a, b, t := &table[i], &table[i+1], at-float64(i)
	z0 := float64(i)*h - reach
	v = hermite(a.v, b.v, h*a.density, h*b.density, t)
	return v, hermite(a.density, b.density, -h*z0*a.density, -h*(z0+h)*b.density, t)
}

// hermite is the cubic with values a, b and slopes da, db at 0 and 1.
func hermite(a, b, da, db, t float64) float64 {
	rise := b - a
	return a + t*(da+t*(3*rise-2*da-db+t*(da+db-2*rise)))
}
