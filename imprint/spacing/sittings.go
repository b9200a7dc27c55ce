package spacing

import (
	"math"

	"sitspan/calibration/gum"
	"sitspan/imprint/codes"
)

// OverSittings is the mean of repeated sittings: the readings' own errors are in the scatter (Type A), what
// all sittings share is the largest of theirs, line by line.
func OverSittings(sittings []Estimate) Estimate {
	values, budgets := make([]float64, len(sittings)), make([]Budget, len(sittings))
	for i, s := range sittings {
		values[i], budgets[i] = s.Value, s.Budget
	}
	mean, u, dof := gum.MeanOf(values)
	deviation := u * math.Sqrt(float64(len(values)))
	lines := Budget{Of(codes.Repeatability, u, 1, codes.OfSittings.With(len(values), deviation)).WithDoF(dof)}
	lines = append(lines, SharedBy(codes.BySittings, budgets...)...)
	return Estimate{Value: mean, Budget: lines.Sorted()}
}
