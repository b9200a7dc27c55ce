package precision

import (
	"errors"
	"math"

	"gonum.org/v1/gonum/stat"
)

// Line is a straight line of y on x by least squares, with what its slope may be.
type Line struct {
	// Slope is the change of y per unit of x.
	Slope float64
	// SE is the standard error of Slope.
	SE float64
	// Interval is Slope's 95 % confidence interval.
	Interval Interval
	// P is the two-sided probability of a slope as far from zero by chance.
	P float64
	// Intercept is y at an x of zero.
	Intercept float64
	// DoF is the number of points less two.
	DoF float64
}

// errOneX is the error of a line through points over one place.
var errOneX = errors.New("all are at one place")

// LineOf is the ordinary least-squares line of y on x, as many of each. At least
// three points, not all at one x.
func LineOf(x, y []float64) (Line, error) {
	if err := errors.Join(needFinite("line", x, 3), needFinite("line", y, 3)); err != nil {
		return Line{}, err
	}
	n := float64(len(x))
	mx, variance := stat.MeanVariance(x, nil)
	xx := variance * (n - 1)
	// Places that differ by their rounding alone do not differ.
	if xx <= n*math.Pow(0x1p-50*mx, 2) {
		return Line{}, errOneX
	}
	l := Line{DoF: n - 2}
	l.Intercept, l.Slope = stat.LinearRegression(x, y, nil, false)
	my, residual := Mean(y), 0.0
	for i := range x {
		r := (y[i] - my) - l.Slope*(x[i]-mx)
		residual += r * r
	}
	l.SE = math.Sqrt(residual / l.DoF / xx)
	l.Interval = about(l.Slope, studentQuantile(0.975, l.DoF)*l.SE)
	l.P = 1
	if l.Slope != 0 {
		l.P = twoSidedP(l.Slope/l.SE, l.DoF)
	}
	return l, nil
}
