package contour

import (
	"math"
	"slices"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"
)

// sampled puts a surface on a grid.
func sampled(step float64, columns, rows int, z func(x, y float64) float64) Grid {
	g := Grid{Step: step, Columns: columns, Rows: rows}
	for j := range rows {
		for i := range columns {
			g.Z = append(g.Z, z(g.X(i), g.Y(j)))
		}
	}
	return g
}

// area is a closed line's, in mm^2 (the shoelace formula), positive whichever
// way round.
func area(l Line) (sum float64) {
	for i := 1; i < len(l); i++ {
		sum += l[i-1].X*l[i].Y - l[i].X*l[i-1].Y
	}
	return math.Abs(sum) / 2
}

// A cone's lines are circles. Linear between points 2 mm apart, a line is off by
// the chord's height at most, h^2 / 8 r on an edge of length h.
func TestAConesLinesAreCircles(t *testing.T) {
	cone := sampled(2, 107, 69, func(x, y float64) float64 { return 40 - 0.5*math.Hypot(x, y) })
	for _, r := range []float64{10, 25, 60} {
		lines := cone.Lines(40 - 0.5*r)
		require.Len(t, lines, 1, "r = %g", r)
		assert.True(t, lines[0].Closed())
		for _, p := range lines[0] {
			assert.InDelta(t, r, math.Hypot(p.X, p.Y), 2*2/(8*r), "r = %g", r)
		}
		assert.InDelta(t, 2*math.Pi*r, lines[0].Length(), 0.01*2*math.Pi*r)
		assert.InDelta(t, math.Pi*r*r, area(lines[0]), 0.01*math.Pi*r*r)
	}
	assert.Empty(t, cone.Lines(41), "above all")
}

// A plane's lines are straight, and end at the grid's border.
func TestAPlanesLinesAreStraight(t *testing.T) {
	plane := sampled(2, 51, 41, func(x, y float64) float64 { return 3 + 0.1*x + 0.05*y })
	lines := plane.Lines(2)
	require.Len(t, lines, 1)
	assert.False(t, lines[0].Closed())
	for _, p := range lines[0] {
		assert.InDelta(t, 2, 3+0.1*p.X+0.05*p.Y, 1e-9, "linear surfaces are met exactly")
	}
	for _, end := range []Point{lines[0][0], lines[0][len(lines[0])-1]} {
		assert.True(t, math.Abs(end.X) == 50 || math.Abs(end.Y) == 40, "%v is on the border", end)
	}
	// from (10, -40) to (-30, 40): 0.1 x + 0.05 y = -1
	assert.InDelta(t, math.Hypot(40, 80), lines[0].Length(), 1e-9)
}

// z = x y / 10 has hyperbolas: two lines at each level but 0, in opposite
// corners, and the corners change with the sign.
func TestASaddlesLinesAreHyperbolas(t *testing.T) {
	saddle := sampled(1, 41, 41, func(x, y float64) float64 { return x * y / 10 })
	for _, level := range []float64{-5, 5} {
		lines := saddle.Lines(level)
		require.Len(t, lines, 2)
		for _, l := range lines {
			assert.False(t, l.Closed())
			for _, p := range l {
				assert.InDelta(t, level, p.X*p.Y/10, 1e-9, "linear along the grid's edges")
				assert.Positive(t, p.X*p.Y*level)
			}
		}
	}
}

// One cell with corners 1, 0, 1, x: its mean decides which corners belong
// together. By hand: at level 0.5 the mean is above for x = 0.4, below for
// x = -0.4.
func TestTheMeanDecidesASaddle(t *testing.T) {
	cell := func(x float64) Grid { return Grid{Step: 2, Columns: 2, Rows: 2, Z: []float64{1, 0, x, 1}} }
	cutOff := func(l Line) (corner Point) {
		for _, p := range l {
			corner.X, corner.Y = corner.X+p.X, corner.Y+p.Y
		}
		return Point{math.Copysign(1, corner.X), math.Copysign(1, corner.Y)}
	}
	for x, want := range map[float64][]Point{
		0.4:  {{1, -1}, {-1, 1}}, // the corners below are cut off
		-0.4: {{-1, -1}, {1, 1}}, // those above are
	} {
		lines := cell(x).Lines(0.5)
		require.Len(t, lines, 2, "x = %g", x)
		assert.ElementsMatch(t, want, []Point{cutOff(lines[0]), cutOff(lines[1])}, "x = %g", x)
	}
}

func TestAHoleOpensALine(t *testing.T) {
	cone := sampled(2, 41, 41, func(x, y float64) float64 { return math.Hypot(x, y) })
	cone.Z[20*41+30] = math.NaN() // at (20, 0)
	lines := cone.Lines(20)
	require.Len(t, lines, 1)
	assert.False(t, lines[0].Closed())
	for _, p := range lines[0] {
		assert.False(t, math.IsNaN(p.X+p.Y))
	}
	assert.Nil(t, Grid{Step: 1, Columns: 2, Rows: 2, Z: []float64{1}}.Lines(0), "no grid")
	assert.Nil(t, cone.Lines(math.NaN()))
}

// Of any grid: each point of a line lies on an edge at its level, a line is
// closed or ends at the border, and each edge with one end above and one below
// is crossed once.
func TestLinesOfAnyGrid(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		g := Grid{
			Step:    rapid.Float64Range(0.1, 5).Draw(t, "step"),
			Columns: rapid.IntRange(2, 9).Draw(t, "columns"),
			Rows:    rapid.IntRange(2, 9).Draw(t, "rows"),
		}
		halves := func(i int) float64 { return float64(i) / 2 } // exact in binary, and often equal
		value := rapid.Map(rapid.IntRange(-6, 6), halves)
		for range g.Columns * g.Rows {
			g.Z = append(g.Z, value.Draw(t, "z"))
		}
		level := rapid.Map(rapid.IntRange(-12, 12), func(i int) float64 { return halves(i) / 2 }).
			Draw(t, "level")
		points := 0
		for _, l := range g.Lines(level) {
			for _, p := range l {
				if math.Abs(g.At(p)-level) > 1e-9 {
					t.Fatalf("at %v the value is %g, the level %g", p, g.At(p), level)
				}
			}
			points += len(l)
			if l.Closed() {
				points--
				continue
			}
			for _, end := range []Point{l[0], l[len(l)-1]} {
				if !g.onBorder(end) {
					t.Fatalf("an open line ends at %v, inside", end)
				}
			}
		}
		// Where a value is the level itself, an open line may come back to it.
		if want := g.changes(level); points != want && !slices.Contains(g.Z, level) {
			t.Fatalf("%d points, %d edges are crossed", points, want)
		}
	})
}

func (g Grid) onBorder(p Point) bool {
	const rounding = 1e-9
	return math.Abs(math.Abs(p.X)-g.X(g.Columns-1)) < rounding ||
		math.Abs(math.Abs(p.Y)-g.Y(g.Rows-1)) < rounding
}

// changes counts the edges of the grid with one end above and one below.
func (g Grid) changes(level float64) (n int) {
	for j := range g.Rows {
		for i := range g.Columns {
			if i+1 < g.Columns && (g.z(i, j) >= level) != (g.z(i+1, j) >= level) {
				n++
			}
			if j+1 < g.Rows && (g.z(i, j) >= level) != (g.z(i, j+1) >= level) {
				n++
			}
		}
	}
	return n
}
