package precision

import (
	"errors"
	"fmt"
)

// ProportionalBiasOf is the line of measured - reference on the mean of the two
// (Bland and Altman 1986, 1999), not on either of them, which their errors would
// bias: a slope says that one method reads wide things wider. At least three pairs
// whose means differ.
func ProportionalBiasOf(measured, reference []float64) (Line, error) {
	differences, err := Differences(measured, reference)
	if err != nil {
		return Line{}, fmt.Errorf("proportional bias: %w", err)
	}
	if err := needFinite("proportional bias", differences, 3); err != nil {
		return Line{}, err
	}
	means := make([]float64, len(differences))
	for i := range means {
		means[i] = (measured[i] + reference[i]) / 2
	}
	l, err := LineOf(means, differences)
	if errors.Is(err, errOneX) {
		return l, fmt.Errorf(
			"proportional bias: all means are %g, need measurands of different size", means[0],
		)
	}
	return l, err
}
