package precision

import (
	"fmt"
	"math"

	"gonum.org/v1/gonum/stat/distuv"
)

// Repeatability is the precision under repeatability conditions: the same
// measurand, method, fitter and equipment, over a short time (ISO 5725-1,
// 3.14).
type Repeatability struct {
	// SD is the repeatability standard deviation s_r, pooled over the groups.
	SD float64
	// Interval is the 95 % confidence interval of SD, from chi-square.
	Interval Interval
	// DoF is its degrees of freedom: readings less groups.
	DoF float64
	// Groups counts the groups of two readings or more; a single reading says
	// nothing about repeatability.
	Groups int
	// Readings counts the readings in those groups.
	Readings int
}

// Limit is the repeatability limit r = 2.8 s_r: two single readings under
// repeatability conditions differ by more in 5 % of cases (ISO 5725-6, 4.1.4:
// 1.96 sqrt(2), which the standard rounds to 2.8; not rounded here).
func (r Repeatability) Limit() float64 { return 1.959963984540054 * math.Sqrt2 * r.SD }

// PooledRepeatability pools the groups' variances, each with its degrees of
// freedom: s_r^2 = sum (n_i - 1) s_i^2 / sum (n_i - 1) (ISO 5725-2, 7.4.5.1).
// A group holds the repeated readings of one measurand, such as one rider's
// imprints. Groups of one are left out; there must be one of two or more.
func PooledRepeatability(groups [][]float64) (Repeatability, error) {
	var r Repeatability
	squares := 0.0
	for i, group := range groups {
		if err := needFinite(fmt.Sprintf("repeatability, group %d", i+1), group, 0); err != nil {
			return Repeatability{}, err
		}
		if n := len(group); n >= 2 {
			s := SD(group)
			squares += float64(n-1) * s * s
			r.DoF += float64(n - 1)
			r.Groups++
			r.Readings += n
		}
	}
	if r.Groups == 0 {
		return Repeatability{}, fmt.Errorf(
			"repeatability: no group of two readings or more among %d, need one measurand read twice",
			len(groups),
		)
	}
	r.SD = math.Sqrt(squares / r.DoF)
	chi := distuv.ChiSquared{K: r.DoF}
	r.Interval = Interval{math.Sqrt(squares / chi.Quantile(0.975)), math.Sqrt(squares / chi.Quantile(0.025))}
	return r, nil
}
