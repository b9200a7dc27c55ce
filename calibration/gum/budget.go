// Package gum states measurement uncertainty in the words of the Guide to the
// Expression of Uncertainty in Measurement (JCGM 100:2008) and of its
// supplements: standard uncertainty u, expanded uncertainty U, coverage factor
// k, effective degrees of freedom.
//
// Its opinion: an uncertainty without the list of what it is made of cannot be
// checked, so the list, the Budget, is the uncertainty, and u and U are only
// read off it. Each influence has one line, and an influence that acts at two
// places still has one line, with the sensitivity of the result to it; two
// lines are two independent influences. Influences that are correlated are
// combined with their covariance before they become a line.
//
// The law of propagation is a linear approximation; MonteCarlo (JCGM
// 101:2008) checks it. Decisions against a limit follow JCGM 106:2012.
package gum

import (
	"fmt"
	"math"
	"slices"

	"gonum.org/v1/gonum/stat/distuv"
)

// Component is one line of a budget: one influence on the result.
type Component struct {
	// Source names the influence, for a person.
	Source string
	// Std is the influence's standard uncertainty u(x_i), in Unit.
	Std float64
	// Unit is the influence's own unit, as it is printed.
	Unit string
	// Sensitivity is c_i = df/dx_i, the result's change in mm for one Unit.
	Sensitivity float64
	// DoF is the degrees of freedom of Std; 0 or +Inf is infinitely many.
	DoF float64
	// Basis says where Std comes from, for a person.
	Basis string
}

// Contribution is u_i(y) = |c_i| u(x_i), in mm (JCGM 100, equation 11b).
func (c Component) Contribution() float64 { return math.Abs(c.Sensitivity * c.Std) }

// degreesOfFreedom is DoF with infinity spelled out.
func (c Component) degreesOfFreedom() float64 {
	if c.DoF == 0 {
		return math.Inf(1)
	}
	return c.DoF
}

// check says what is wrong with the line, if anything.
func (c Component) check() error {
	switch {
	case !(c.Std >= 0) || math.IsInf(c.Std, 1):
		return fmt.Errorf("budget line %q: standard uncertainty is %v, need a number of %s, zero or more", c.Source,
			c.Std, c.Unit)
	case math.IsNaN(c.Sensitivity) || math.IsInf(c.Sensitivity, 0):
		return fmt.Errorf("budget line %q: sensitivity is %v, need a number", c.Source, c.Sensitivity)
	case !(c.DoF >= 0):
		return fmt.Errorf("budget line %q: degrees of freedom are %v, need 0 (infinitely many) or more", c.Source,
			c.DoF)
	}
	return nil
}

// Budget is the influences on one result, independent of one another.
type Budget []Component

// Check returns an error that names the first line that cannot be computed
// with: a NaN, or a negative uncertainty or degrees of freedom.
func (b Budget) Check() error {
	for _, c := range b {
		if err := c.check(); err != nil {
			return err
		}
	}
	return nil
}

// Combined is the combined standard uncertainty u_c(y), in mm: the root sum of
// squares of the contributions (JCGM 100, equations 10 and 11a).
func (b Budget) Combined() float64 {
	u := 0.0
	for _, c := range b.Sorted() {
		u = math.Hypot(u, c.Contribution())
	}
	return u
}

// EffectiveDoF is the effective degrees of freedom of u_c by the
// Welch-Satterthwaite formula (JCGM 100, equation G.2b), not truncated; +Inf
// where every contribution has infinitely many or none contributes.
func (b Budget) EffectiveDoF() float64 {
	u, sum := b.Combined(), 0.0
	if u == 0 {
		return math.Inf(1)
	}
	for _, c := range b.Sorted() {
		sum += math.Pow(c.Contribution()/u, 4) / c.degreesOfFreedom()
	}
	return 1 / sum
}

// Expanded is the expanded uncertainty U = k u_c, in mm, that holds the
// coverage probability, such as 0.95, with the coverage factor k = t_p(nu_eff)
// from Student's distribution, nu_eff truncated to the next lower integer
// (JCGM 100, G.4.2 and G.6.4), and to no less than 1. A coverage outside
// (0, 1) is a mistake in the program and panics.
func (b Budget) Expanded(coverage float64) (U, k float64) {
	k = CoverageFactor(coverage, b.EffectiveDoF())
	return k * b.Combined(), k
}

// Sorted returns the lines with the largest contribution first; lines of equal
// contribution keep their order.
func (b Budget) Sorted() Budget {
	sorted := slices.Clone(b)
	slices.SortStableFunc(sorted, func(x, y Component) int {
		switch cx, cy := x.Contribution(), y.Contribution(); {
		case cx > cy:
			return -1
		case cx < cy:
			return 1
		}
		return 0
	})
	return sorted
}

// Estimate is a measured value with the budget of its uncertainty.
type Estimate struct {
	// Value is the best estimate of the measurand, in mm.
	Value float64
	// Budget is what its uncertainty is made of.
	Budget Budget
}

// Interval is Value -+ U for the coverage probability, in mm.
func (e Estimate) Interval(coverage float64) (low, high float64) {
	U, _ := e.Budget.Expanded(coverage)
	return e.Value - U, e.Value + U
}

// CoverageFactor is t_p(nu): the half-width, in standard uncertainties, of the
// central interval that holds the coverage probability of Student's
// distribution, with dof truncated to an integer of at least 1, or of the
// normal distribution where dof is infinite (JCGM 100, table G.2).
func CoverageFactor(coverage, dof float64) float64 {
	if !(coverage > 0 && coverage < 1) {
		panic(fmt.Sprintf("gum: coverage probability %v, need one between 0 and 1", coverage))
	}
	if math.IsNaN(dof) {
		return math.NaN()
	}
	upper := (1 + coverage) / 2
	// Far out the quantile by the incomplete beta function loses digits, and
	// z + (z^3 + z)/4nu errs by 1/nu^2 (Abramowitz and Stegun 26.7.5).
	if dof > 1e6 {
		z := distuv.UnitNormal.Quantile(upper)
		return z + (z*z*z+z)/(4*dof)
	}
	// Four equal lines of 10 have 40 degrees of freedom, not 39 because 1/sum
	// came out as 39.99999999999999.
	whole := max(1, math.Floor(dof*(1+1e-12)))
	return distuv.StudentsT{Mu: 0, Sigma: 1, Nu: whole}.Quantile(upper)
}
