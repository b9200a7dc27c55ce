// Package precision compares measurements with one another and with
// references: repeatability in the words of ISO 5725, agreement in those of
// Bland and Altman, single results by E_n.
//
// Its opinion: a correlation coefficient says nothing about agreement; bias,
// limits of agreement and their confidence intervals do, in the measurand's
// own unit. An estimate from few differences is given with the interval that
// says so. Outliers are named by a documented rule and never taken out here:
// whoever removes one says why.
//
// All values carry the caller's unit, mm in this module.
package precision

import (
	"fmt"
	"math"

	"gonum.org/v1/gonum/stat"
	"gonum.org/v1/gonum/stat/distuv"
)

// Interval is a confidence interval, in the unit of what it is about.
type Interval struct{ Low, High float64 }

// about is estimate -+ half.
func about(estimate, half float64) Interval { return Interval{estimate - half, estimate + half} }

// Mean is the average; NaN for none.
func Mean(values []float64) float64 { return stat.Mean(values, nil) }

// SD is the standard deviation with n-1 degrees of freedom; NaN for fewer than
// two values.
func SD(values []float64) float64 { return stat.StdDev(values, nil) }

// needFinite refuses a NaN or an infinity, and fewer values than the least.
func needFinite(what string, values []float64, least int) error {
	if len(values) < least {
		return fmt.Errorf("%s: %d values, need at least %d", what, len(values), least)
	}
	for i, v := range values {
		if math.IsNaN(v) || math.IsInf(v, 0) {
			return fmt.Errorf("%s: value %d is %v, need a number", what, i+1, v)
		}
	}
	return nil
}

// studentQuantile is Student's t that a share p lies below.
func studentQuantile(p, dof float64) float64 {
	return distuv.StudentsT{Mu: 0, Sigma: 1, Nu: dof}.Quantile(p)
}

// twoSidedP is the probability of a Student's t at least as far from zero.
func twoSidedP(t, dof float64) float64 {
	return 2 * distuv.StudentsT{Mu: 0, Sigma: 1, Nu: dof}.CDF(-math.Abs(t))
}
