package intake

import (
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"sitspan/cmd/sitspan/internal/record"
	"sitspan/cmd/sitspan/internal/review"
	"sitspan/cmd/sitspan/internal/shop"
	"sitspan/imprint"
)

// TestGeometryGivesTheMeasurementBack: a centre set exactly where it was
// measured, but told apart from it, must give the measured place. What may
// differ is what a homography cannot follow of the lens, far below u.
func TestGeometryGivesTheMeasurementBack(t *testing.T) {
	s, err := NewStation(Options{Shop: shop.Default()})
	require.NoError(t, err)
	defer s.Close()
	for _, name := range []string{"foam-window.jpg", "foam-two-lamps.jpg", "paper-1.jpg", "paper-2.jpg",
		"card-1.jpg", "card-2.jpg", "rule-1.jpg", "rule-2.jpg"} {
		rec := s.Measure(t.Context(), "../../../../testdata/photos/"+name).Record
		m := rec.Measurement
		require.NotNil(t, m.Spacing, name)
		require.NotNil(t, m.Geometry, name)
		g := m.Geometry
		for _, d := range []*[2]float64{&m.Left.PlaneMM, &m.Right.PlaneMM} {
			w := g.ImageFromPlane[6]*d[0] + g.ImageFromPlane[7]*d[1] + g.ImageFromPlane[8]
			x := (g.ImageFromPlane[0]*d[0] + g.ImageFromPlane[1]*d[1] + g.ImageFromPlane[2]) / w
			px := m.Left.Px
			if d == &m.Right.PlaneMM {
				px = m.Right.Px
			}
			assert.InDelta(t, px[0], x, 1.5, "%s: within a pixel or two of the full model", name)
		}
		alone := m
		left, right := *m.Left, *m.Right
		alone.Left, alone.Right, alone.Spacing, alone.Budget = nil, nil, nil, nil
		alone.Geometry.DepthMM = (left.Depth + right.Depth) / 2
		got, err := review.Move(alone, review.Centres{Left: left.Px, Right: right.Px})
		require.NoError(t, err, name)
		assert.InDelta(
			t,
			*m.Spacing,
			*got.Spacing,
			0.3,
			"%s: far below the expanded uncertainty of %.1f mm",
			name,
			*m.U,
		)
		assert.Equal(
			t,
			m.ScaleSource == "frame" || m.ScaleSource == "card" || m.ScaleSource == "rule",
			m.Geometry.Camera != nil,
			"%s: a camera, so that foam's depth counts",
			name,
		)
	}
}

// What was said of a gauge's readings is what the record keeps: the default is for those who say nothing.
func TestTheRecordKeepsTheGaugesOwnUncertainty(t *testing.T) {
	for said, want := range map[float64]float64{0: 1, 0.3: 0.3, 2: 2} {
		s := &Station{settings: imprint.Settings{DepthMM: []float64{14, 15.5}, DepthU: said}}
		var g record.Geometry
		s.addDepth(&g)
		assert.InDelta(t, want, g.DepthU, 1e-12, "mm")
		assert.Equal(t, [2]float64{14, 15.5}, *g.DepthsMM)
		assert.InDelta(t, want*want, g.DepthCov[2], 1e-12)
		assert.Zero(t, g.DepthCov[1], "each side's error is its own")
		assert.InDelta(t, 14.75, g.DepthMM, 1e-12)
	}
}

// TestHandScale: a card's corners in any order give its long side; a rule's two
// points are taken as they are.
func TestHandScale(t *testing.T) {
	// 10 px/mm, ISO/IEC 7810
	quad := [][2]float64{{100, 100}, {100 + 856, 100}, {100 + 856, 100 + 539.8}, {100, 100 + 539.8}}
	for _, order := range [][4]int{{0, 1, 2, 3}, {2, 0, 3, 1}, {3, 2, 1, 0}} {
		h := HandScale{HandScale: record.HandScale{Source: ByCard, MM: CardMM}}
		for _, i := range order {
			h.Points = append(h.Points, quad[i])
		}
		ends, face, err := scaleOf(h.HandScale)
		require.NoError(t, err)
		assert.InDelta(t, 856, ends[0].Distance(ends[1]), 1e-9)
		require.NotNil(t, face, "its face is covered")
	}
	for name, h := range map[string]record.HandScale{
		"a square":      {Source: ByCard, Points: [][2]float64{{0, 0}, {9, 0}, {9, 9}, {0, 9}}},
		"three corners": {Source: ByCard, Points: quad[:3]},
		"one place":     {Source: ByCard, Points: [][2]float64{{5, 5}, {5, 5}, {5, 5}, {5, 5}}},
		"one end":       {Source: ByRule, Points: quad[:1]}, "a foot": {Source: "foot"},
	} {
		var fault *HandFault
		assert.ErrorAs(t, HandScale{HandScale: h}.Check(), &fault, name)
		assert.NotEmpty(t, fault.Error())
	}
	assert.NoError(t, HandScale{HandScale: record.HandScale{Source: ByRule, Points: quad[:2]}}.Check())
}
