package gum

import (
	"math"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"
)

// judgedTo is the degrees of freedom of an uncertainty judged to be good to a share of itself (JCGM 100,
// G.3).
func judgedTo(share float64) float64 { return 1 / (2 * share * share) }

// endGauge is the budget of JCGM 100:2008, H.1, table H.1, calibration of an
// end gauge; lengths in nm here instead of mm.
func endGauge() Budget {
	return Budget{
		{Source: "length of the standard", Std: Normal(75, 3), Unit: "nm", Sensitivity: 1, DoF: 18,
			Basis: "H.1.3.1"},
		{Source: "difference measured", Std: 9.7, Unit: "nm", Sensitivity: 1, DoF: 25.6, Basis: "H.1.3.2"},
		{Source: "expansion of the standard", Std: Rectangular(2e-6), Unit: "1/K", Sensitivity: 0,
			Basis: "H.1.3.3"},
		{Source: "temperature of the bed", Std: 0.41, Unit: "K", Sensitivity: 0, Basis: "H.1.3.4"},
		{Source: "difference of expansion", Std: Rectangular(1e-6), Unit: "1/K", Sensitivity: 5.000062e6,
			DoF: judgedTo(0.10), Basis: "H.1.3.5"},
		{Source: "difference of temperature", Std: Rectangular(0.05), Unit: "K", Sensitivity: -575,
			DoF: judgedTo(0.50), Basis: "H.1.3.6"},
	}
}

// Source: JCGM 100:2008, H.1, table H.1 and H.1.6, each printed value to half
// a unit of its last digit. The Guide multiplies a rounded u_c, so U_99 prints
// as 93 nm where 2.92 x 31.66 is 92.5.
func TestEndGauge(t *testing.T) {
	b := endGauge()
	require.NoError(t, b.Check())
	for i, want := range []struct{ value, half float64 }{{25, 0.5}, {9.7, 0.05}, {0, 0}, {0, 0}, {2.9, 0.05},
		{16.6, 0.05}} {
		assert.InDelta(t, want.value, b[i].Contribution(), want.half, b[i].Source)
	}
	assert.InDelta(t, 32, b.Combined(), 0.5)
	assert.InDelta(t, 1002, b.Combined()*b.Combined(), 1, "u_c^2 in nm^2")
	assert.Equal(t, 16.0, math.Floor(b.EffectiveDoF()))
	U, k := b.Expanded(0.99)
	assert.InDelta(t, 2.92, k, 0.005)
	assert.GreaterOrEqual(t, U, 92.0)
	assert.LessOrEqual(t, U, 93.5)

	assert.Equal(t, []string{"length of the standard", "difference of temperature", "difference measured"},
		sources(b.Sorted()[:3]))
	assert.Equal(t, []string{"expansion of the standard", "temperature of the bed"}, sources(b.Sorted()[4:]),
		"equal lines keep their order")
}

// Source: JCGM 100:2008, H.1.3.2: repetition (pooled s = 13 nm from 25
// readings, five here), the comparator's random part (+-0.01 um at 95 % from 6
// readings), its systematic part (0.02 um at 3 s, good to 25 %). The Guide
// prints 25.6 degrees of freedom from rounded values; unrounded it is 25.4.
func TestEndGaugeDifference(t *testing.T) {
	b := Budget{
		{Source: "repetition", Std: 13 / math.Sqrt(5), Sensitivity: 1, DoF: 24},
		{Source: "comparator, random", Std: Normal(10, CoverageFactor(0.95, 5)), Sensitivity: 1, DoF: 5},
		{Source: "comparator, systematic", Std: Normal(20, 3), Sensitivity: 1, DoF: judgedTo(0.25)},
	}
	assert.InDelta(t, 5.8, b[0].Std, 0.05)
	assert.InDelta(t, 3.9, b[1].Std, 0.05)
	assert.InDelta(t, 6.7, b[2].Std, 0.05)
	assert.InDelta(t, 9.7, b.Combined(), 0.05)
	assert.InDelta(t, 25.5, b.EffectiveDoF(), 0.15)
}

func sources(b Budget) []string {
	var names []string
	for _, c := range b {
		names = append(names, c.Source)
	}
	return names
}

func TestEffectiveDoF(t *testing.T) {
	inf := math.Inf(1)
	cases := []struct {
		name, source string
		std, dof     []float64
		want, delta  float64
	}{
		{"four equal", "JCGM 100 equation G.2b by hand", []float64{1, 1, 1, 1}, []float64{10, 10, 10, 10}, 40,
			1e-12},
		{"one known, one judged", "suncal's test of degrees of freedom", []float64{0.57, 0.25}, []float64{9, inf},
			12.8, 0.05},
		{"zero stands for infinity", "the same", []float64{0.57, 0.25}, []float64{9, 0}, 12.8, 0.05},
		{"all infinite", "equation G.2b", []float64{1, 2}, []float64{0, inf}, inf, 0},
		{"no uncertainty", "no line to count", []float64{0}, []float64{5}, inf, 0},
		{"alone", "equation G.2b", []float64{3}, []float64{7}, 7, 1e-12},
	}
	for _, c := range cases {
		t.Run(c.name, func(t *testing.T) {
			var b Budget
			for i := range c.std {
				b = append(b, Component{Std: c.std[i], Sensitivity: 1, DoF: c.dof[i]})
			}
			if got := b.EffectiveDoF(); math.IsInf(c.want, 1) {
				assert.Equal(t, c.want, got)
			} else {
				assert.InDelta(t, c.want, got, c.delta, c.source)
			}
		})
	}
	assert.Equal(t, math.Inf(1), Budget(nil).EffectiveDoF())
}

// Source: JCGM 100:2008, table G.2; rows 16 and the 95 % column of infinity
// as seen in a public copy, the rest checked with SciPy 1.10's t.ppf. Half a unit
// of the last printed digit.
func TestCoverageFactor(t *testing.T) {
	cases := []struct{ dof, coverage, want float64 }{
		{1, 0.95, 12.71}, {1, 0.99, 63.66}, {2, 0.95, 4.30}, {3, 0.95, 3.18}, {5, 0.95, 2.57},
		{10, 0.6827, 1.05}, {10, 0.90, 1.81}, {10, 0.95, 2.23}, {10, 0.9545, 2.28}, {10, 0.99, 3.17},
		{10, 0.9973, 3.96},
		{16, 0.95, 2.12}, {16, 0.9545, 2.17}, {16, 0.99, 2.92}, {50, 0.95, 2.01}, {100, 0.95, 1.984},
		{math.Inf(1), 0.6827, 1.000}, {math.Inf(1), 0.95, 1.960}, {math.Inf(1), 0.9545, 2.000},
		{math.Inf(1), 0.9973, 3.000},
	}
	for _, c := range cases {
		half := 0.005
		if c.dof >= 100 {
			half = 0.0005
		}
		assert.InDelta(t, c.want, CoverageFactor(c.coverage, c.dof), half, "t_%v(%v)", c.coverage, c.dof)
	}
}

// Truncation as G.4.2 asks for, but not of a whole number that rounding left a
// hair short; below one degree of freedom the table has no row.
func TestCoverageFactorTruncates(t *testing.T) {
	assert.Equal(t, CoverageFactor(0.95, 16), CoverageFactor(0.95, 16.75))
	assert.Equal(t, CoverageFactor(0.95, 40), CoverageFactor(0.95, math.Nextafter(40, 0)))
	assert.Equal(t, CoverageFactor(0.95, 1), CoverageFactor(0.95, 0.3))
	assert.True(t, math.IsNaN(CoverageFactor(0.95, math.NaN())))
	for _, p := range []float64{-0.1, 0, 1, 95, math.NaN()} {
		assert.Panics(t, func() { CoverageFactor(p, 10) }, "coverage %v", p)
	}
}

// Up to the largest sample, k falls toward the normal quantile and the two
// formulas meet: t - z is about z(z^2+1)/4nu (Abramowitz and Stegun 26.7.5).
func TestCoverageFactorMeetsNormal(t *testing.T) {
	z := CoverageFactor(0.95, math.Inf(1))
	last := math.Inf(1)
	for dof := 1.0; dof <= 1e9; dof *= 10 {
		k := CoverageFactor(0.95, dof)
		assert.Less(t, k, last, "dof %g", dof)
		if dof >= 100 {
			first := z * (z*z + 1) / 4 / dof
			assert.InDelta(t, first, k-z, first/10+1e-12, "dof %g", dof)
		}
		last = k
	}
}

func TestBudgetCheck(t *testing.T) {
	good := Component{Source: "print scale", Std: 0.001, Unit: "mm/mm", Sensitivity: 125, DoF: 9}
	cases := []struct {
		name string
		bad  Component
		want string
	}{
		{"NaN uncertainty", Component{Source: "depth", Std: math.NaN(), Unit: "mm"},
			`"depth": standard uncertainty is NaN`},
		{"negative uncertainty", Component{Source: "depth", Std: -1, Unit: "mm"}, `need a number of mm`},
		{"infinite uncertainty", Component{Source: "depth", Std: math.Inf(1), Unit: "mm"}, `is +Inf`},
		{"NaN sensitivity", Component{Source: "lens", Std: 1, Sensitivity: math.NaN()}, `"lens": sensitivity`},
		{"NaN degrees of freedom", Component{Source: "one sitting", Std: 1, DoF: math.NaN()},
			`"one sitting": degrees of freedom`},
		{"negative degrees of freedom", Component{Source: "x", Std: 1, DoF: -1}, `-1`},
	}
	for _, c := range cases {
		t.Run(c.name, func(t *testing.T) { assert.ErrorContains(t, Budget{good, c.bad}.Check(), c.want) })
	}
	assert.NoError(t, Budget{good}.Check())
	assert.NoError(t, Budget(nil).Check())
}

func TestSortedLeavesTheBudgetInItsOrder(t *testing.T) {
	b := Budget{{Source: "a", Std: 1, Sensitivity: 1}, {Source: "b", Std: 2, Sensitivity: -1},
		{Source: "c", Std: 1, Sensitivity: 1}}
	assert.Equal(t, []string{"b", "a", "c"}, sources(b.Sorted()))
	assert.Equal(t, []string{"a", "b", "c"}, sources(b))
}

// Equation 10 for two lines, 3 and 4; k for infinite degrees of freedom.
func TestEstimateInterval(t *testing.T) {
	e := Estimate{Value: 125, Budget: Budget{{Std: 0.3, Sensitivity: 1}, {Std: 0.02, Sensitivity: -20}}}
	low, high := e.Interval(0.95)
	assert.InDelta(t, 125-1.959964*0.5, low, 1e-6)
	assert.InDelta(t, 125+1.959964*0.5, high, 1e-6)
}

// budgets draws between one and eight lines.
func budgets() *rapid.Generator[Budget] {
	line := rapid.Custom(func(t *rapid.T) Component {
		return Component{
			Std:         rapid.Float64Range(0.001, 10).Draw(t, "u"),
			Sensitivity: rapid.Float64Range(-5, 5).Draw(t, "c"),
			DoF:         float64(rapid.IntRange(0, 60).Draw(t, "dof")),
		}
	})
	return rapid.Custom(func(t *rapid.T) Budget { return rapid.SliceOfN(line, 1, 8).Draw(t, "lines") })
}

// The order of the lines changes nothing but rounding.
func TestOrderDoesNotMatter(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		b := budgets().Draw(t, "budget")
		shuffled := Budget(rapid.Permutation(b).Draw(t, "shuffled"))
		assert.Equal(t, b.Combined(), shuffled.Combined())
		if nu := b.EffectiveDoF(); !math.IsInf(nu, 1) {
			assert.InEpsilon(t, nu, shuffled.EffectiveDoF(), 1e-12)
		}
		U, _ := b.Expanded(0.95)
		shuffledU, _ := shuffled.Expanded(0.95)
		assert.Equal(t, U, shuffledU)
	})
}

// u_c grows with every u and lies between the largest contribution and the sum
// of all; U grows too as long as the degrees of freedom are not the line's own
// (a line of few degrees of freedom can take k up or down).
func TestUncertaintyGrowsWithEveryLine(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		b := budgets().Draw(t, "budget")
		sum := 0.0
		for i := range b {
			b[i].DoF = 0
			sum += b[i].Contribution()
		}
		u := b.Combined()
		assert.GreaterOrEqual(t, u, b.Sorted()[0].Contribution())
		assert.LessOrEqual(t, u, sum*(1+1e-12))

		U, _ := b.Expanded(0.95)
		i := rapid.IntRange(0, len(b)-1).Draw(t, "line")
		b[i].Std *= 1 + rapid.Float64Range(0.01, 3).Draw(t, "growth")
		grown, _ := b.Expanded(0.95)
		assert.GreaterOrEqual(t, grown, U)
		if b[i].Contribution() > 1e-3*u {
			assert.Greater(t, grown, U)
		}
	})
}

// nu_eff lies between the least of the lines' own and their sum (JCGM 100,
// G.4.1, note 1), and U grows with the coverage probability.
func TestEffectiveDoFBounds(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		b := budgets().Draw(t, "budget")
		least, sum := math.Inf(1), 0.0
		for i := range b {
			b[i].Sensitivity = 1
			least = min(least, b[i].degreesOfFreedom())
			sum += b[i].degreesOfFreedom()
		}
		nu := b.EffectiveDoF()
		assert.GreaterOrEqual(t, nu, least*(1-1e-12))
		assert.LessOrEqual(t, nu, sum*(1+1e-12))
		narrow, _ := b.Expanded(0.90)
		wide, _ := b.Expanded(0.95)
		assert.Less(t, narrow, wide)
	})
}
