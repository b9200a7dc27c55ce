package contour

import (
	"math"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"
)

// A bilinear surface is met exactly, between grid points too.
func TestASectionIsBilinear(t *testing.T) {
	z := func(x, y float64) float64 { return 2 + 0.3*x - 0.2*y }
	g := sampled(2, 107, 69, z)
	s := g.Section(Point{-60, -3}, Point{60, 5}, 0.5)
	require.NotEmpty(t, s)
	assert.Equal(t, Point{-60, -3}, s[0].Point)
	assert.InDelta(t, math.Hypot(120, 8), s[len(s)-1].Along, 1e-9)
	for i, p := range s {
		assert.InDelta(t, z(p.X, p.Y), p.Z, 1e-9)
		if i > 0 {
			assert.LessOrEqual(t, p.Along-s[i-1].Along, 0.5+1e-9)
		}
	}
	twisted := sampled(2, 3, 3, func(x, y float64) float64 { return x * y })
	assert.InDelta(t, 0.25, twisted.At(Point{0.5, 0.5}), 1e-12)
}

func TestOutsideTheGridThereIsNothing(t *testing.T) {
	g := sampled(2, 5, 5, func(x, y float64) float64 { return 1 })
	assert.True(t, math.IsNaN(g.At(Point{4.01, 0})))
	assert.True(t, math.IsNaN(g.At(Point{math.NaN(), 0})))
	assert.Equal(t, 1.0, g.At(Point{4, -4}), "the corner belongs to it")
	g.Z[12] = math.NaN()
	assert.True(t, math.IsNaN(g.At(Point{0.1, 0.1})), "beside a hole")
	assert.Nil(t, g.Section(Point{}, Point{1, 1}, 0), "no step")
	assert.Nil(t, g.Section(Point{}, Point{math.Inf(1), 1}, 1))
}

// Checked by hand: on a grid of ±106 x ±68 mm the line through (-60, -2) and
// (60, 2) rises by 1 in 30, and ends at x = ±106.
func TestThrough(t *testing.T) {
	g := sampled(2, 107, 69, func(x, y float64) float64 { return 0 })
	from, to, ok := g.Through(Point{-60, -2}, Point{60, 2})
	require.True(t, ok)
	assert.InDelta(t, -106, from.X, 1e-9)
	assert.InDelta(t, -106.0/30, from.Y, 1e-9)
	assert.InDelta(t, 106, to.X, 1e-9)
	for _, pair := range [][2]Point{{{1, 1}, {1, 1}}, {{0, 0}, {200, 0}}, {{math.NaN(), 0}, {1, 0}}} {
		_, _, ok := g.Through(pair[0], pair[1])
		assert.False(t, ok, "%v", pair)
	}
	rapid.Check(t, func(t *rapid.T) {
		place := func(name string) Point {
			return Point{
				rapid.Float64Range(-106, 106).Draw(t, name),
				rapid.Float64Range(-68, 68).Draw(t, name),
			}
		}
		a, b := place("a"), place("b")
		from, to, ok := g.Through(a, b)
		if !ok {
			return
		}
		if !g.onBorder(from) || !g.onBorder(to) {
			t.Fatalf("from %v to %v", from, to)
		}
	})
}

func TestCheckSaysWhatIsWrong(t *testing.T) {
	for _, c := range []struct {
		grid Grid
		says string
	}{
		{Grid{Step: 0, Columns: 2, Rows: 2, Z: make([]float64, 4)}, "a grid's step is 0 mm"},
		{Grid{Step: 1, Columns: 1, Rows: 4, Z: make([]float64, 4)}, "1 columns and 4 rows"},
		{Grid{Step: 1, Columns: math.MaxInt, Rows: 2}, "columns"},
		{Grid{Step: 1, Columns: 2, Rows: 3, Z: make([]float64, 4)}, "has 4 values, needed: 6"},
	} {
		assert.ErrorContains(t, c.grid.Check(), c.says)
	}
	least, largest, ok := Grid{Z: []float64{math.NaN(), 3, -1}}.Range()
	assert.Equal(t, []float64{-1, 3}, []float64{least, largest})
	assert.True(t, ok)
}
