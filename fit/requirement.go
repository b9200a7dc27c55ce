package fit

import (
	"math"
	"slices"

	"sitspan/calibration/gum"
)

// Posture is how a rider sits on a bike: a trunk angle, or an allowance that
// the fitter states. Make one with TrunkAngle or AllowanceByHand.
type Posture struct {
	byHand   bool
	value, u float64
}

// TrunkAngle is a posture by the trunk's angle above the horizontal and the
// angle's standard uncertainty, both in degrees.
func TrunkAngle(deg, uDeg float64) Posture { return Posture{value: deg, u: uDeg} }

// AllowanceByHand is a posture by its allowance and the allowance's standard
// uncertainty, both in mm.
func AllowanceByHand(mm, uMM float64) Posture { return Posture{byHand: true, value: mm, u: uMM} }

// TrunkDeg gives the trunk angle and its standard uncertainty in degrees; ok
// is false where the allowance was stated by hand.
func (p Posture) TrunkDeg() (deg, uDeg float64, ok bool) {
	if p.byHand {
		return 0, 0, false
	}
	return p.value, p.u, true
}

// Allowance gives what the posture adds, from the table or by hand.
func (p Posture) Allowance(t AllowanceTable) (Allowance, error) {
	if p.byHand {
		return allowanceByHand(p.value, p.u)
	}
	return t.At(p.value, p.u)
}

// Requirement is the width that a rider needs in a posture, equation (3):
//
//	required = spacing + allowance
type Requirement struct {
	Spacing   gum.Estimate // mm
	Allowance Allowance
	Required  gum.Estimate // mm, its budget holds both parts' lines

	spacing, required distribution
}

// distribution is what the rule needs to know of a quantity: estimate and
// standard uncertainty in mm, and effective degrees of freedom.
type distribution struct{ x, u, nu float64 }

// within is P(quantity <= limit).
func (d distribution) within(limitMM float64) float64 {
	return probabilityWithin(d.x, d.u, d.nu, limitMM)
}

// lowSpacingMM and highSpacingMM: a spacing outside them is sent to review
// when measured, and noted here.
const (
	lowSpacingMM  = 70
	highSpacingMM = 190
)

// StatedSpacing is a spacing in mm that was stated, not measured here, with
// its standard uncertainty in mm.
func StatedSpacing(mm, uMM float64) gum.Estimate {
	return gum.Estimate{Value: mm, Budget: gum.Budget{{
		Source: "spacing", Std: uMM, Unit: "mm", Sensitivity: 1, DoF: math.Inf(1), Basis: "stated",
	}}}
}

// Require adds a posture's allowance to a spacing. The two parts do not
// influence each other; their lines go into one budget, whose combined
// standard uncertainty and effective degrees of freedom (JCGM 100:2008,
// equations (10) and (G.2b)) the rule uses.
func Require(spacing gum.Estimate, p Posture, t AllowanceTable) (Requirement, error) {
	if !(spacing.Value > 0 && spacing.Value <= maxWidthMM) {
		return Requirement{}, BadSpacing.With("mm", spacing.Value)
	}
	if err := spacing.Budget.Check(); err != nil {
		return Requirement{}, BadSpacingBudget.With("why", err)
	}
	a, err := p.Allowance(t)
	if err != nil {
		return Requirement{}, err
	}
	return sumOf(spacing, a), nil
}

// sumOf is equation (3) with the lines of both parts.
func sumOf(spacing gum.Estimate, a Allowance) Requirement {
	q := Requirement{Spacing: spacing, Allowance: a}
	q.Required = gum.Estimate{
		Value:  spacing.Value + a.MM,
		Budget: slices.Concat(spacing.Budget, gum.Budget(a.Components)),
	}
	q.spacing, q.required = distributionOf(spacing), distributionOf(q.Required)
	return q
}

func distributionOf(e gum.Estimate) distribution {
	return distribution{e.Value, e.Budget.Combined(), e.Budget.EffectiveDoF()}
}

// U is the standard uncertainty of the required width, mm.
func (q Requirement) U() float64 { return q.required.u }

// ProbabilityWithin is P(required <= widthMM).
//
// With very few degrees of freedom the Welch-Satterthwaite formula can turn an
// added influence into a narrower interval (t falls faster than u grows). An
// allowance must never make the rule bolder, so above the required value the
// probability is never more than the spacing's own budget gives.
func (q Requirement) ProbabilityWithin(widthMM float64) float64 {
	p := q.required.within(widthMM)
	if widthMM > q.required.x && q.spacing.u > 0 {
		p = math.Min(p, q.spacing.within(widthMM-q.Allowance.MM))
	}
	return p
}

// ProbabilityResting is P(spacing <= supportMM): that the bones rest on the
// part of the saddle that carries them.
func (q Requirement) ProbabilityResting(supportMM float64) float64 {
	return q.spacing.within(supportMM)
}

// ProbabilityHolding is P(required <= widthMM and spacing <= supportMM). Both
// share the spacing, so it is their joint probability, with the correlation
// u(spacing) / u(required) that equation (3) gives: equal to the smaller of
// the two where the allowance has no uncertainty. A supportMM of 0 means "not
// stated" and bounds nothing.
func (q Requirement) ProbabilityHolding(widthMM, supportMM float64) float64 {
	wide := q.ProbabilityWithin(widthMM)
	if supportMM == 0 {
		return wide
	}
	rho := 1.0
	if q.required.u > 0 {
		rho = math.Min(1, q.spacing.u/q.required.u)
	}
	return jointProbability(wide, q.ProbabilityResting(supportMM), rho)
}

// needMM is the width in mm at which P(required <= width) reaches the level:
// the required width with its guard band (JCGM 106:2012, 8.3.2).
func (q Requirement) needMM(level float64) float64 {
	need := q.required.guarded(level)
	if level > 0.5 {
		need = math.Max(need, q.spacing.guarded(level)+q.Allowance.MM)
	}
	return need
}

func (d distribution) guarded(level float64) float64 {
	if d.u == 0 {
		return d.x
	}
	return d.x + gum.GuardBand(d.u, d.nu, level)
}
