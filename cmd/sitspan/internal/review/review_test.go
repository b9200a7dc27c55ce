package review

import (
	"math"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"sitspan/cmd/sitspan/internal/record"
)

// camera 600 mm above (10, -20), 0.2 mm/px, the picture's middle at (2000, 1500).
var (
	flat   = [9]float64{5, 0, 2000, 0, 5, 1500, 0, 0, 1}
	camera = [3]float64{10, -20, 600}
)

// measured is what the automatic measurement of two dents at these places of
// the plane would be, by equation (1) written out.
func measured(left, right [2]float64, depth float64) record.Measurement {
	u, k, coverage := 2.0, 2.0, 0.95
	const scale = 0.99
	dent := func(at [2]float64) *record.Dent {
		d := &record.Dent{PlaneMM: at, Depth: depth, DepthU: 2, Basis: "gauge", Cov: [3]float64{1, 0, 1}}
		d.Px = [2]float64{5*at[0] + 2000, 5*at[1] + 1500}
		for i := range 2 {
			d.MM[i] = scale * (camera[i] + (at[i]-camera[i])*(600+depth+0.5)/600)
		}
		return d
	}
	l, r := dent(left), dent(right)
	s := math.Hypot(l.MM[0]-r.MM[0], l.MM[1]-r.MM[1])
	return record.Measurement{
		Status: record.Review, Medium: "foam", ScaleSource: "frame", Spacing: &s, U: &u, CoverageFactor: &k,
		Coverage: coverage, Left: l, Right: r,
		Reasons: []record.Reason{{Code: "few_marks", Message: "few", Hint: "more"}},
		Budget: []record.BudgetLine{
			{Code: "left_centre", U: 0.8},
			{Code: "right_centre", U: 0.6},
			{Code: "print_scale", U: 0.3},
		},
		Geometry: &record.Geometry{
			ImageFromPlane: flat,
			Camera:         &camera,
			CameraU:        &[3]float64{5, 5, 24},
			PrintScale:     [2]float64{scale, scale},
			PrintScaleU:    0.0015,
			CardMM:         0.5,
			DepthMM:        13,
			DepthU:         4,
		},
	}
}

func TestUnmovedCentresKeepTheNumber(t *testing.T) {
	m := measured([2]float64{-60, 2}, [2]float64{58, -3}, 14)
	got, err := Move(m, Centres{Left: m.Left.Px, Right: m.Right.Px})
	require.NoError(t, err)
	assert.InDelta(t, *m.Spacing, *got.Spacing, 1e-12)
	assert.Len(t, got.Budget, len(m.Budget))
	assert.Equal(t, record.Measured, got.Status, "somebody has looked")
	assert.Empty(t, got.Reasons)
	assert.Equal(t, "few_marks", got.Warnings[0].Code, "what sent it to review stays as a footnote")
	assert.NoError(t, got.Check())
}

// TestMovedCentreIsWhereEquationOnePutsIt compares with the same sum done from
// scratch at the new place.
func TestMovedCentreIsWhereEquationOnePutsIt(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		at := func(name string, x float64) [2]float64 {
			return [2]float64{
				x + rapid.Float64Range(-15, 15).Draw(t, name+" x"),
				rapid.Float64Range(-20, 20).Draw(t, name+" y"),
			}
		}
		depth := rapid.Float64Range(5, 25).Draw(t, "depth")
		from, to := measured(
			at("left", -60),
			at("right", 60),
			depth,
		), measured(
			at("new left", -60),
			at("new right", 60),
			depth,
		)
		got, err := Move(from, Centres{Left: to.Left.Px, Right: to.Right.Px, U: 1})
		if err != nil {
			t.Fatal(err)
		}
		if math.Abs(*got.Spacing-*to.Spacing) > 1e-6 { // samePlace is 2e-7 mm here
			t.Fatalf("spacing %v, from scratch %v", *got.Spacing, *to.Spacing)
		}
	})
}

func TestMovedCentreHasTheReviewersUncertainty(t *testing.T) {
	m := measured([2]float64{-60, 0}, [2]float64{60, 0}, 14)
	px := m.Left.Px
	px[0] -= 10 // 2 mm outward
	got, err := Move(m, Centres{Left: px, Right: m.Right.Px, U: 1.5})
	require.NoError(t, err)
	var sources []string
	sum := 0.0
	for _, l := range got.Budget {
		sources = append(sources, l.Code)
		sum += l.U * l.U
	}
	assert.ElementsMatch(t, []string{"left_centre_by_hand", "right_centre", "print_scale"}, sources)
	// k = 1.96: the normal distribution's at 95 % (JCGM 100, table G.1), all lines having infinitely many
	// degrees of freedom.
	assert.InDelta(t, 1.96*math.Sqrt(sum), *got.U, 0.001)
	assert.InDelta(t, 2*(600+14.5)/600*0.99, *got.Spacing-*m.Spacing, 1e-9)
	again, err := Move(got, Centres{Left: m.Left.Px, Right: got.Right.Px})
	require.NoError(t, err)
	assert.Len(t, again.Budget, 3, "a second move takes the first one's line away")
}

func TestPictureWithoutReadingCanBeSetByHand(t *testing.T) {
	m := measured([2]float64{-60, 0}, [2]float64{60, 0}, 13)
	want := *m.Spacing
	left, right := m.Left.Px, m.Right.Px
	m.Spacing, m.U, m.Left, m.Right, m.Budget, m.Status = nil, nil, nil, nil, nil, record.Refused
	got, err := Move(m, Centres{Left: left, Right: right})
	require.NoError(t, err)
	assert.InDelta(t, want, *got.Spacing, 1e-9)
	assert.Greater(t, *got.U, 2*DefaultU, "two centres, each with the reviewer's uncertainty")
	assert.NoError(t, got.Check())
}

func TestMoveRefuses(t *testing.T) {
	m := measured([2]float64{-60, 0}, [2]float64{60, 0}, 14)
	for name, c := range map[string]struct {
		centres Centres
		says    string
	}{
		"too close":   {Centres{Left: [2]float64{1900, 1500}, Right: [2]float64{2100, 1500}}, "mm apart"},
		"exchanged":   {Centres{Left: m.Right.Px, Right: m.Left.Px}, "exchange"},
		"sure of it":  {Centres{Left: m.Left.Px, Right: m.Right.Px, U: 0.01}, "uncertainty"},
		"not a place": {Centres{Left: [2]float64{math.Inf(1), 0}, Right: m.Right.Px}, "on the imprint"},
	} {
		_, err := Move(m, c.centres)
		assert.ErrorContains(t, err, c.says, name)
	}
	m.Geometry = nil
	_, err := Move(m, Centres{})
	assert.ErrorContains(t, err, "cannot be moved")
}

// TestCardsAndRulesAreMovedLikeTheFrame: equation (1) needs the camera, not the
// frame; and no frame's card lies between.
func TestCardsAndRulesAreMovedLikeTheFrame(t *testing.T) {
	for _, source := range []string{"card", "rule"} {
		m := measured([2]float64{-60, 2}, [2]float64{58, -3}, 14)
		m.ScaleSource, m.Geometry.CardMM = source, 0
		m.Budget = append(m.Budget, record.BudgetLine{Code: source + "_fit", U: 0.4})
		px := m.Left.Px
		px[0] -= 10 // 2 mm outward on the plane
		got, err := Move(m, Centres{Left: px, Right: m.Right.Px, U: 1})
		require.NoError(t, err)
		assert.Equal(t, source, got.ScaleSource)
		// From scratch: the moved centre 2 mm farther, magnified by (H + d) / H.
		at := [2]float64{-62, 2}
		var want [2]float64
		for i := range 2 {
			want[i] = 0.99 * (camera[i] + (at[i]-camera[i])*(600+14.0)/600)
		}
		assert.InDelta(t, want[0], got.Left.MM[0], 1e-9)
		assert.InDelta(t, want[1], got.Left.MM[1], 1e-9)
		assert.Equal(t, m.Right.MM, got.Right.MM, "what was not moved stays")
		assert.Contains(t, names(got.Budget), source+"_fit", "the scale's own line stays")
		assert.NoError(t, got.Check())

		t.Log("found, but without a number of its own")
		m.Spacing, m.U, m.Left, m.Right, m.Budget, m.Status = nil, nil, nil, nil, nil, record.Refused
		fresh, err := Move(m, Centres{Left: [2]float64{1700, 1500}, Right: [2]float64{2300, 1500}, U: 1})
		require.NoError(t, err)
		assert.Contains(t, names(fresh.Budget), source+"_fit")
		assert.NotContains(t, names(fresh.Budget), "print_scale")
		assert.Greater(t, *fresh.U, *got.U, "less is known than where a fit says so")
	}
}

func names(lines []record.BudgetLine) (out []string) {
	for _, l := range lines {
		out = append(out, l.Code)
	}
	return out
}

func TestMoveSaysWhatItCannot(t *testing.T) {
	m := measured([2]float64{-60, 0}, [2]float64{60, 0}, 14)
	c := Centres{Left: m.Left.Px, Right: m.Right.Px}
	unclear := m
	unclear.Medium = ""
	_, err := Move(unclear, c)
	assert.ErrorContains(t, err, "foam or marking paper")
	g := *m.Geometry
	g.Hand = &record.HandScale{Source: "rule", Points: [][2]float64{{0, 0}, {100, 0}}, MM: 20}
	m.Geometry = &g
	_, err = Move(m, c)
	assert.ErrorContains(t, err, "set by hand")
	for _, code := range FaultCodes() {
		assert.NotEmpty(t, (&Fault{Code: code, Args: []any{1.0, 2.0, 3.0}}).Error())
	}
}
