package report

import (
	"math"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"gonum.org/v1/gonum/stat/distuv"

	"sitspan/cmd/sitspan/internal/record"
	"sitspan/fit"
)

func TestEllipse(t *testing.T) {
	// 5.9915: the chi-squared distribution's 95 % quantile for two degrees of
	// freedom, which is -2 ln 0.05 (computed here by another way)
	k := math.Sqrt(distuv.ChiSquared{K: 2}.Quantile(0.95))
	long, short, deg := ellipse95([3]float64{4, 0, 1})
	assert.InDeltaSlice(t, []float64{2 * k, k, 0}, []float64{long, short, deg}, 1e-9)
	long, short, deg = ellipse95([3]float64{1, 0, 9})
	assert.InDeltaSlice(t, []float64{3 * k, k, 90}, []float64{long, short, deg}, 1e-9)
	// variances 1 and 3 along the axes turned by 45 degrees: xx = yy = 2, xy = 1
	long, short, deg = ellipse95([3]float64{2, 1, 2})
	assert.InDeltaSlice(t, []float64{math.Sqrt(3) * k, k, 45}, []float64{long, short, deg}, 1e-9)
	for _, none := range [][3]float64{{}, {1, 1, 1}, {-1, 0, 1}} {
		long, _, _ = ellipse95(none)
		assert.Zero(t, long, "%v is no covariance with an area", none)
	}
}

func planOf(t *testing.T, rec record.Record) plan {
	t.Helper()
	s, err := newSheet(rec, SheetOptions{})
	require.NoError(t, err)
	s.density = densities(0)[0]
	return s.newPlan(15, 40, 106, 70)
}

// The plan is drawn at half size: a rider who lays a ruler on the page finds
// half the distance, and the window's middle in the drawing's.
func TestPlanIsToScale(t *testing.T) {
	p := planOf(t, kept(t, "schema1-foam.json"))
	assert.True(t, p.window)
	left, right := p.centres()
	x1, y1 := p.page(left)
	x2, y2 := p.page(right)
	assert.InDelta(t, *p.m.Spacing/2, math.Hypot(x2-x1, y2-y1), 0.01, "the record's centres are kept to 0.01 mm")
	assert.Less(t, x1, x2, "left is on the left")
	x, y := p.page([2]float64{})
	assert.Equal(t, []float64{15 + 53, 40 + 35}, []float64{x, y})
	assert.Contains(t, holdsOnOnePage(t, p.rec, SheetOptions{}, ""), "Half size.")
}

// A scan's axes are its own, and a record may hold no centres: both are drawn
// about their middle, inside the drawing, without the window's border.
func TestPlanWithoutAWindow(t *testing.T) {
	scan := kept(t, "schema1-scan.json")
	far := scan
	l, r := [2]float64{400, 200}, [2]float64{400 + *scan.Measurement.Spacing, 200}
	far.Measurement.LeftMM, far.Measurement.RightMM = &l, &r
	none := scan
	none.Measurement.LeftMM, none.Measurement.RightMM = nil, nil
	wide := none
	mm := 230.0
	wide.Measurement.Spacing = &mm
	for name, rec := range map[string]record.Record{"scan": scan, "far": far, "none": none, "wide": wide} {
		p := planOf(t, rec)
		assert.False(t, p.window, name)
		for _, c := range func() [][2]float64 { a, b := p.centres(); return [][2]float64{a, b} }() {
			x, y := p.page(c)
			assert.True(t, x > 15 && x < 121 && y > 40 && y < 110, "%s: %g, %g", name, x, y)
		}
		holdsOnOnePage(t, rec, SheetOptions{}, name)
	}
	assert.NotContains(t, holdsOnOnePage(t, wide, SheetOptions{}, "wide"), "Half size")
}

// The saddle's width is drawn where it is the only one.
func TestPlanShowsTheOnlyWidth(t *testing.T) {
	one := advised(t, kept(t, "schema1-foam.json"), fit.Rider{Bikes: oneBike})
	assert.Contains(t, holdsOnOnePage(t, one, SheetOptions{}, ""), "Saddle 150 mm")
	two := advised(t, kept(t, "schema1-foam.json"), fit.Rider{Bikes: threeBikes[1:]})
	assert.NotContains(t, holdsOnOnePage(t, two, SheetOptions{}, ""), "Saddle 1")
}

// The ladder shows the choice, its neighbours and what is to be ordered, and
// points at nothing where the rule says to measure again.
func TestRungs(t *testing.T) {
	choice := func(allowance, u float64) fit.Choice {
		a := fit.DefaultAdvisor()
		_, c, err := a.Width(fit.StatedSpacing(121, u), fit.AllowanceByHand(allowance, 0))
		require.NoError(t, err)
		return c
	}
	low, high := ladderRange(choice(20, 1), 141, 2)
	assert.Equal(t, []Rung{{MM: 130}, {MM: 140}, {MM: 150, Chosen: true}, {MM: 160}},
		rungs(choice(20, 1), low, high))
	low, high = ladderRange(choice(90, 1), 211, 2)
	assert.Equal(t, []Rung{{MM: 220, Other: true}}, rungs(choice(90, 1), low, high), "to be ordered")
	again := choice(20, 12)
	require.Equal(t, fit.MeasureAgain, again.Verdict)
	low, high = ladderRange(again, 141, 24)
	for _, r := range rungs(again, low, high) {
		assert.False(t, r.Chosen || r.Other)
	}
}
