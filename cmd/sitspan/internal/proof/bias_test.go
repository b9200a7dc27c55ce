package proof

import (
	"math"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"sitspan/imprint/codes"
	"sitspan/imprint/spacing"
)

func checksOf(rule float64, deviations ...float64) (list []Check) {
	for _, d := range deviations {
		list = append(list, Check{DistanceMM: 120, DistanceU: rule, MeasuredMM: 120 + d, MeasuredU: 1})
	}
	return list
}

// Mean, scatter and effective degrees of freedom by hand: deviations 1 to 5 have the mean 3 and s^2 = 2.5, so
// u = sqrt(2.5 / 5) = 0.7071 with 4; with a rule of as much, u = 1 and nu = 1 / (0.25 / 4) = 16 (JCGM 100,
// G.2b).
func TestBiasByHand(t *testing.T) {
	b, ok := BiasOf(checksOf(math.Sqrt(0.5), 1, 2, 3, 4, 5))
	require.True(t, ok)
	assert.InDelta(t, 3, b.MeanMM, 1e-9)
	assert.InDelta(t, 1, b.U, 1e-9)
	assert.InDelta(t, 16, b.DoF, 1e-6)
	assert.True(t, b.Significant, "3 is beyond t(16) = 2.12")
	b, _ = BiasOf(checksOf(math.Sqrt(0.5), 0.1, 1.1, 2.1, 3.1, 4.1))
	assert.False(t, b.Significant, "2.1 is within 2.12")
	_, ok = BiasOf(checksOf(0.3, 1, 2, 3, 4))
	assert.False(t, ok, "four are too few")
}

func estimate(u, dof float64) spacing.Estimate {
	line := spacing.Of(codes.LeftCentre, u, 1, codes.Assumed.With()).WithDoF(dof)
	return spacing.Estimate{Value: 121, Budget: spacing.Budget{line}}
}

func TestBiasIsToldAndTakenOffOnlyWhereAsked(t *testing.T) {
	b, _ := BiasOf(checksOf(0.1, 1.8, 2.1, 2.0, 1.9, 2.2))
	require.True(t, b.Significant)
	told, off := b.On(estimate(0.4, 0), false), b.On(estimate(0.4, 0), true)
	assert.InDelta(t, 121, told.Value, 0, "never a silent correction")
	assert.Greater(t, told.Budget.Part(codes.CheckedOnPad), 2.0, "it counts with its whole size")
	assert.InDelta(t, 119, off.Value, 1e-9)
	assert.Positive(t, off.Budget.Part(codes.CorrectedByChecks), "a named line")
	small, _ := BiasOf(checksOf(0.1, 0.5, -0.5, 0.2, -0.3, 0.1))
	require.False(t, small.Significant)
	assert.InDelta(t, 121, small.On(estimate(0.4, 0), true).Value, 0, "chance is not corrected")
}

// Whatever the checks, and however few degrees of freedom a budget has, no U becomes smaller.
func TestChecksNeverNarrowAnInterval(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		e := estimate(rapid.Float64Range(0.01, 5).Draw(t, "u"), float64(rapid.IntRange(0, 20).Draw(t, "dof")))
		deviations := rapid.SliceOfN(rapid.Float64Range(-5, 5), 5, 12).Draw(t, "deviations")
		b, ok := BiasOf(checksOf(rapid.Float64Range(0, 1).Draw(t, "rule"), deviations...))
		require.True(t, ok)
		before, _ := e.Budget.Expanded(coverage)
		after, _ := b.On(e, rapid.Bool().Draw(t, "correct")).Budget.Expanded(coverage)
		assert.GreaterOrEqual(t, after, before)
	})
}

// The case that a plain line would get wrong: two degrees of freedom and a line of many.
func TestALineOfManyDegreesOfFreedomDoesNotNarrow(t *testing.T) {
	e := estimate(1, 2)
	before, _ := e.Budget.Expanded(coverage)
	plain := append(spacing.Budget{}, e.Budget...)
	plain = append(plain, spacing.Of(codes.CheckedOnPad, 0.8, 1, codes.Assumed.With()))
	narrow, _ := plain.Expanded(coverage)
	require.Less(t, narrow, before, "the trap is there")
	after, _ := Bias{Checks: 50, U: 0.8, DoF: 1e6}.On(e, false).Budget.Expanded(coverage)
	assert.GreaterOrEqual(t, after, before)
}
