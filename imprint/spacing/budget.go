package spacing

import (
	"cmp"
	"math"
	"slices"

	"sitspan/calibration/gum"
	"sitspan/imprint/codes"
)

// Line is one influence on the spacing. Its Source is the influence's code; its basis has parameters.
type Line struct {
	gum.Component
	From codes.Said // where Std comes from
}

// Of is a line of an influence: u in its own unit, and how many mm of spacing one unit makes.
func Of(l *codes.Line, u, sensitivity float64, from codes.Said) Line {
	return Line{
		gum.Component{Source: l.Code, Std: u, Unit: l.Unit, Sensitivity: sensitivity, Basis: from.Key()},
		from,
	}
}

// WithDoF gives a line's degrees of freedom.
func (l Line) WithDoF(dof float64) Line {
	l.DoF = dof
	return l
}

// WithUnit gives a line that states its u in another unit than the influence's usual one.
func (l Line) WithUnit(unit string) Line {
	l.Unit = unit
	return l
}

// Budget is the influences on one spacing, independent of one another.
type Budget []Line

// Components are the lines as the Guide has them.
func (b Budget) Components() gum.Budget {
	out := make(gum.Budget, len(b))
	for i, l := range b {
		out[i] = l.Component
	}
	return out
}

// Sorted returns the lines with the largest contribution first; lines of equal contribution keep their
// order.
func (b Budget) Sorted() Budget {
	sorted := slices.Clone(b)
	slices.SortStableFunc(
		sorted,
		func(x, y Line) int { return cmp.Compare(y.Contribution(), x.Contribution()) },
	)
	return sorted
}

// Combined is the combined standard uncertainty, mm.
func (b Budget) Combined() float64 { return b.Components().Combined() }

// Expanded is the expanded uncertainty in mm that holds the coverage, and its factor.
func (b Budget) Expanded(coverage float64) (u, k float64) { return b.Components().Expanded(coverage) }

// Part is what the influences of these codes together add to the standard uncertainty, mm.
func (b Budget) Part(of ...*codes.Line) (u float64) {
	for _, l := range b {
		if slices.ContainsFunc(of, func(c *codes.Line) bool { return c.Code == l.Source }) {
			u = math.Hypot(u, l.Contribution())
		}
	}
	return u
}

// SharedBy are the lines that so much has in common, of several budgets of the same influences: each
// influence's largest contribution, in the order in which they are met.
func SharedBy(by codes.Shared, budgets ...Budget) (lines Budget) {
	at := map[string]int{}
	for _, b := range budgets {
		for _, l := range b {
			if !codes.SharedBy(l.Source, by) {
				continue
			}
			i, seen := at[l.Source]
			if !seen {
				at[l.Source] = len(lines)
				lines = append(lines, l)
			} else if l.Contribution() > lines[i].Contribution() {
				lines[i] = l
			}
		}
	}
	return lines
}

// Estimate is a spacing in mm with the budget of its uncertainty.
type Estimate struct {
	Value  float64
	Budget Budget
}
