package precision

import (
	"fmt"
	"math"
)

// ProportionalBias is the straight line of the differences on the means of the
// two methods: a slope says that one method reads wide things wider.
type ProportionalBias struct {
	// Slope is the change of the difference per unit of the mean.
	Slope float64
	// SE is the standard error of Slope.
	SE float64
	// Interval is Slope's 95 % confidence interval.
	Interval Interval
	// P is the two-sided probability of a slope as far from zero by chance.
	P float64
	// Intercept is the line's difference at a mean of zero.
	Intercept float64
	// DoF is the number of pairs less two.
	DoF float64
}

// ProportionalBiasOf regresses measured - reference on their mean (Bland and
// Altman 1986, 1999), not on either of them, which their errors would bias. At
// least three pairs whose means differ.
func ProportionalBiasOf(measured, reference []float64) (ProportionalBias, error) {
	differences, err := Differences(measured, reference)
	if err != nil {
		return ProportionalBias{}, fmt.Errorf("proportional bias: %w", err)
	}
	if err := needFinite("proportional bias", differences, 3); err != nil {
		return ProportionalBias{}, err
	}
	means := make([]float64, len(differences))
	for i := range means {
		means[i] = (measured[i] + reference[i]) / 2
	}
	return line(means, differences)
}

// line is the ordinary least-squares line of y on x.
func line(x, y []float64) (ProportionalBias, error) {
	mx, my, n := Mean(x), Mean(y), float64(len(x))
	var xx, xy float64
	for i := range x {
		xx += (x[i] - mx) * (x[i] - mx)
		xy += (x[i] - mx) * (y[i] - my)
	}
	// Means that differ by their rounding alone do not differ.
	if xx <= n*math.Pow(0x1p-50*mx, 2) {
		return ProportionalBias{}, fmt.Errorf("proportional bias: all means are %g, need measurands of different size", mx)
	}
	b := ProportionalBias{Slope: xy / xx, DoF: n - 2}
	b.Intercept = my - b.Slope*mx
	residual := 0.0
	for i := range x {
		r := (y[i] - my) - b.Slope*(x[i]-mx)
		residual += r * r
	}
	b.SE = math.Sqrt(residual / b.DoF / xx)
	b.Interval = about(b.Slope, studentQuantile(0.975, b.DoF)*b.SE)
	b.P = 1
	if b.Slope != 0 {
		b.P = twoSidedP(b.Slope/b.SE, b.DoF)
	}
	return b, nil
}
