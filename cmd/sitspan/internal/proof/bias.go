package proof

import (
	"math"
	"slices"

	"sitspan/calibration/gum"
	"sitspan/imprint/codes"
	"sitspan/imprint/spacing"
)

// LeastChecks are how many checks a mean deviation needs before it is a line of a budget.
const LeastChecks = 5

// coverage is that of every expanded uncertainty here.
const coverage = 0.95

// Bias is the mean deviation of a pad's checks.
type Bias struct {
	Checks      int
	MeanMM      float64 // measured minus known
	U           float64 // standard uncertainty of the mean, mm
	DoF         float64
	Significant bool // beyond what chance and the rule explain at 95 %
}

// BiasOf is the mean deviation of checks; none where they are too few. The scatter is of Type A (JCGM 100,
// 4.2). The rule's u is common to all checks, so that it does not shrink with their number (JCGM 100, 5.2.2,
// note 1).
func BiasOf(checks []Check) (b Bias, ok bool) {
	if len(checks) < LeastChecks {
		return b, false
	}
	deviations, rule := make([]float64, len(checks)), 0.0
	for i, c := range checks {
		deviations[i] = c.Deviation()
		rule += c.DistanceU / float64(len(checks))
	}
	mean, u, dof := gum.MeanOf(deviations)
	budget := gum.Budget{{Std: u, Sensitivity: 1, DoF: dof}, {Std: rule, Sensitivity: 1}}
	b = Bias{Checks: len(checks), MeanMM: mean, U: budget.Combined(), DoF: budget.EffectiveDoF()}
	b.Significant = math.Abs(mean) > b.Expanded()
	return b, true
}

// Expanded is the mean's expanded uncertainty, mm.
func (b Bias) Expanded() float64 { return gum.CoverageFactor(coverage, b.DoF) * b.U }

// On gives a measurement the line that its pad's checks make. A significant bias that is not taken off counts
// with its whole size (B. Magnusson et al., Nordtest TR 537: root of the squares of bias and of its u; the
// report itself was not seen, the formula as others quote it). One that is taken off leaves its u.
func (b Bias) On(e spacing.Estimate, correct bool) spacing.Estimate {
	of, from, u := codes.CheckedOnPad, codes.OfChecks, b.U
	switch {
	case b.Significant && correct:
		of, from = codes.CorrectedByChecks, codes.CorrectionOfChecks
		e.Value -= b.MeanMM
	case b.Significant:
		u = math.Hypot(b.MeanMM, b.U)
	}
	line := spacing.Of(of, u, 1, from.With(b.MeanMM, b.Expanded(), b.Checks)).WithDoF(b.DoF)
	e.Budget = withLine(e.Budget, line)
	return e
}

// withLine adds a line, wide enough that U does not become smaller than without it. That could happen: a line
// raises the effective degrees of freedom of a budget that has few, and the coverage factor falls (JCGM 100,
// G.4.1).
func withLine(b spacing.Budget, line spacing.Line) spacing.Budget {
	const step = 1.05 // a twentieth at a time; the factor is bounded below by the normal distribution's
	before, _ := b.Expanded(coverage)
	line.Std = math.Max(line.Std, 1e-3) // mm; nothing is proved to a thousandth
	for {
		all := append(slices.Clone(b), line)
		if after, _ := all.Expanded(coverage); !(after < before) {
			return all.Sorted()
		}
		line.Std *= step
	}
}
