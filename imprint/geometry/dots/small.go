package dots

import "math"

// factor is Cholesky's lower triangle of a dot's normal equations; not ok where they are singular, to double
// precision. They are 8 x 8 and solved some ten thousand times a photo, which a library for matrices of any size
// takes three times as long for.
func factor(n *[parameters][parameters]float64) (l [parameters][parameters]float64, ok bool) {
	const least = 1e-13 // of a pivot, relative
	for j := range parameters {
		d := n[j][j]
		for k := range j {
			d -= l[j][k] * l[j][k]
		}
		if !(d > least*n[j][j]) {
			return l, false
		}
		l[j][j] = math.Sqrt(d)
		for i := j + 1; i < parameters; i++ {
			s := n[i][j]
			for k := range j {
				s -= l[i][k] * l[j][k]
			}
			l[i][j] = s / l[j][j]
		}
	}
	return l, true
}

// solved is the solution for one right side.
func solved(l *[parameters][parameters]float64, right [parameters]float64) (x [parameters]float64) {
	for i := range parameters {
		s := right[i]
		for k := range i {
			s -= l[i][k] * x[k]
		}
		x[i] = s / l[i][i]
	}
	for i := parameters - 1; i >= 0; i-- {
		s := x[i]
		for k := i + 1; k < parameters; k++ {
			s -= l[k][i] * x[k]
		}
		x[i] = s / l[i][i]
	}
	return x
}
