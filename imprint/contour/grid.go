package contour

import (
	"fmt"
	"math"
)

// Point is a place in mm, x to the right, y down.
type Point struct{ X, Y float64 }

// Grid is a surface sampled every Step mm about the origin, row by row from the
// front (the smallest y) and the left. A value that is no finite number is a
// hole.
type Grid struct {
	Step          float64 // mm
	Columns, Rows int
	Z             []float64 // mm
}

// most is the number of values above which a grid is not taken for one.
const most = 10_000_000

// Check says in one line what is wrong with a grid's size.
func (g Grid) Check() error {
	if !(g.Step > 0) || math.IsInf(g.Step, 1) {
		return fmt.Errorf("a grid's step is %g mm, needed: a positive number", g.Step)
	}
	if g.Columns < 2 || g.Rows < 2 || g.Columns > most/g.Rows {
		return fmt.Errorf("a grid has %d columns and %d rows, needed: two of each at least", g.Columns,
			g.Rows)
	}
	if len(g.Z) != g.Columns*g.Rows {
		return fmt.Errorf("a grid of %d x %d has %d values, needed: %d", g.Columns, g.Rows, len(g.Z),
			g.Columns*g.Rows)
	}
	return nil
}

// X and Y are a column's and a row's place in mm.
func (g Grid) X(column int) float64 { return (float64(column) - float64(g.Columns-1)/2) * g.Step }

// Y is a row's place in mm.
func (g Grid) Y(row int) float64 { return (float64(row) - float64(g.Rows-1)/2) * g.Step }

// z is a grid point's value.
func (g Grid) z(column, row int) float64 { return g.Z[row*g.Columns+column] }

// Range is the least and the largest finite value; ok is false where there is
// none.
func (g Grid) Range() (least, largest float64, ok bool) {
	least, largest = math.Inf(1), math.Inf(-1)
	for _, z := range g.Z {
		if finite(z) {
			least, largest, ok = math.Min(least, z), math.Max(largest, z), true
		}
	}
	return least, largest, ok
}

// At is the value at a place, bilinear between the four grid points around it.
// It is NaN outside the grid and beside a hole.
func (g Grid) At(p Point) float64 {
	u := p.X/g.Step + float64(g.Columns-1)/2
	v := p.Y/g.Step + float64(g.Rows-1)/2
	const slack = 1e-9 // of a step: rounding must not put an edge outside
	if !(u >= -slack && v >= -slack && u <= float64(g.Columns-1)+slack && v <= float64(g.Rows-1)+slack) {
		return math.NaN()
	}
	i := min(max(int(u), 0), g.Columns-2)
	j := min(max(int(v), 0), g.Rows-2)
	u, v = u-float64(i), v-float64(j)
	return (1-v)*((1-u)*g.z(i, j)+u*g.z(i+1, j)) + v*((1-u)*g.z(i, j+1)+u*g.z(i+1, j+1))
}

func finite(v float64) bool { return !math.IsNaN(v) && !math.IsInf(v, 0) }
