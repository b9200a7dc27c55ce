package reading

import (
	"math"
	"math/rand/v2"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"sitspan/imprint/relief"
)

// drawnSheet is a scan of 240 x 170 mm: lid, and on it a sheet whose left side stands at 20 mm, leaning by
// the given slope, with ink as a function of place.
func drawnSheet(paper, slope float64, ink func(x, y float64) float64) (*Sheet, []float64) {
	s := &Sheet{step: 2, w: 120, h: 85}
	random := rand.New(rand.NewPCG(4, 4))
	light := make([]float64, s.w*s.h)
	for i := range light {
		q := s.at(i)
		light[i] = 0.86
		if q.X > 20+slope*q.Y && q.X < 222 && q.Y > 14 && q.Y < 156 {
			light[i] = paper * (1 - ink(q.X, q.Y))
		}
		light[i] *= 1 + 0.0005*random.NormFloat64()
	}
	return s, light
}

// The sides of a sheet are found where its paper or its ink can be told from the lid; a mark's own fading rim
// is no side.
func TestSidesOfASheetOnTheGlass(t *testing.T) {
	none := func(x, y float64) float64 { return 0 }
	even := func(x, y float64) float64 { return 0.3 }
	mark := func(x, y float64) float64 { // fades to nothing 30 mm inside
		return math.Max(0, 0.6-math.Hypot((x-120)/70, (y-85)/50)*0.6)
	}
	for _, one := range []struct {
		name         string
		paper, slope float64
		ink          func(x, y float64) float64
		sides        int
	}{
		{"yellower paper", 0.80, 0, none, 4},
		{"whiter paper", 0.90, 0.03, none, 4},
		{"paper like the lid, ink to its sides", 0.86, -0.02, even, 4},
		{"paper like the lid, a mark in the middle", 0.86, 0, mark, 0},
	} {
		s, light := drawnSheet(one.paper, one.slope, one.ink)
		s.findEdges(light)
		require.Len(t, s.edges, one.sides, one.name)
		// a place is off the paper outside the drawn side, and on it edgeMargin and a cell's diagonal further
		// in
		for y := 20.0; y < 150 && one.sides > 0; y += 10 {
			side := 20 + one.slope*y
			assert.False(t, s.OnPaper(relief.Point{X: side - 1, Y: y}), one.name)
			assert.True(t, s.OnPaper(relief.Point{X: side + edgeMargin + 3, Y: y}), one.name)
		}
		assert.True(t, s.OnPaper(relief.Point{X: 120, Y: 85}), one.name)
	}
}

// Cells without light take their neighbours', and the others keep their own.
func TestSpreadFillsFromTheNeighbours(t *testing.T) {
	light := make([]float64, relief.Cells)
	for i := range light {
		light[i] = 0.5
		if i%relief.Columns > 90 {
			light[i] = math.NaN()
		}
	}
	light[3] = 0.7
	filled := Spread(light)
	for i, l := range filled {
		want := 0.5
		if i == 3 {
			want = 0.7
		}
		require.InDelta(t, want, l, 1e-12, "cell %d", i)
	}
	require.True(t, math.IsNaN(light[len(light)-1]), "the window itself stays as it was")
}
