package intake

import (
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"sitspan/cmd/sitspan/internal/review"
	"sitspan/cmd/sitspan/internal/shop"
)

// TestGeometryGivesTheMeasurementBack: a centre set exactly where it was
// measured, but told apart from it, must give the measured place. What may
// differ is what a homography cannot follow of the lens, far below u.
func TestGeometryGivesTheMeasurementBack(t *testing.T) {
	s, err := NewStation(Options{Shop: shop.Default()})
	require.NoError(t, err)
	defer s.Close()
	for _, name := range []string{"foam-window.jpg", "foam-two-lamps.jpg", "paper-1.jpg", "paper-2.jpg"} {
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
		assert.InDelta(t, *m.Spacing, *got.Spacing, 0.3, "%s: far below the expanded uncertainty of %.1f mm", name, *m.U)
	}
}
