package surface

import (
	"errors"
	"math"
	"slices"

	"gonum.org/v1/gonum/mat"

	"sitspan/imprint/internal/cores"
)

// Bottom is a deepest point.
type Bottom struct {
	X, Y, Z float64 // mm
	Radius  float64 // of curvature along x and y on average, mm; +Inf where it is flat or no bottom
	// Near is how many heights lie within NearRadius of it, and Around in how many of six sectors round it.
	Near, Around int
}

// NearRadius is within how many mm heights bear a bottom out.
const NearRadius = 15.0

// Bounds of the search, mm on the frame's plane.
type Bounds struct{ HalfWidth, HalfHeight float64 }

// ErrNoTwo says that the surface has no two bottoms, one on either side.
var ErrNoTwo = errors.New("no two deepest points")

const (
	coarse  = 2.0 // mm of the grid that is searched
	reach   = 4.0 // mm about a deepest point over which the quadratic is fitted that defines it
	fine    = 1.0 // mm of that quadratic's grid
	atLeast = 8.0 // mm that a bottom keeps from the middle between both
)

// Grid is the surface on a grid of step mm about the origin, row by row from the front (least y).
type Grid struct {
	Step          float64
	Columns, Rows int
	Z             []float64 // mm
	U             []float64 // mm, standard uncertainty, where it was asked for
}

// X and Y are a cell's place in mm.
func (g *Grid) X(i int) float64 { return (float64(i) - float64(g.Columns-1)/2) * g.Step }
func (g *Grid) Y(j int) float64 { return (float64(j) - float64(g.Rows-1)/2) * g.Step }

func newGrid(b Bounds, step float64) *Grid {
	return &Grid{Step: step, Columns: 2*int(b.HalfWidth/step) + 1, Rows: 2*int(b.HalfHeight/step) + 1}
}

// Sampled returns the surface on a grid over the bounds.
func (s *Surface) Sampled(b Bounds, step float64) *Grid {
	g := newGrid(b, step)
	g.Z = make([]float64, g.Columns*g.Rows)
	cores.Each(g.Rows, func(j int) {
		for i := range g.Columns {
			if z, known := s.searched.cell(g, i, j); known {
				g.Z[j*g.Columns+i] = z
				continue
			}
			g.Z[j*g.Columns+i] = s.At(g.X(i), g.Y(j))
		}
	})
	return g
}

// cell is what a grid holds of another's cell; false where it has none there, or is none.
func (g *Grid) cell(of *Grid, i, j int) (z float64, known bool) {
	if g == nil || g.Step != of.Step {
		return 0, false
	}
	i, j = i+(g.Columns-of.Columns)/2, j+(g.Rows-of.Rows)/2 // either count is odd
	if i < 0 || j < 0 || i >= g.Columns || j >= g.Rows {
		return 0, false
	}
	return g.Z[j*g.Columns+i], true
}

// Deepest finds the two bottoms: on either side of the middle of the depth the deepest place that is deeper
// than all around it, refined by a quadratic over 4 mm (the measurand's definition). Where that place lies at
// the rim of the bounds nobody sees what is beyond it, and there are no two.
func (s *Surface) Deepest(b Bounds) (left, right Bottom, err error) {
	g := s.Sampled(b, coarse)
	s.searched = g
	mid := g.middle()
	var found [2]*[2]int
	for j := 1; j < g.Rows-1; j++ {
		for i := 1; i < g.Columns-1; i++ {
			side := 0
			if g.X(i) > mid {
				side = 1
			}
			if math.Abs(g.X(i)-mid) < atLeast || !g.peak(i, j) {
				continue
			}
			if f := found[side]; f == nil || g.Z[j*g.Columns+i] > g.Z[f[1]*g.Columns+f[0]] {
				found[side] = &[2]int{i, j}
			}
		}
	}
	for _, f := range found {
		if f == nil || b.HalfWidth-math.Abs(g.X(f[0])) < reach || b.HalfHeight-math.Abs(g.Y(f[1])) < reach {
			return left, right, ErrNoTwo
		}
	}
	return s.refine(g.X(found[0][0]), g.Y(found[0][1])), s.refine(g.X(found[1][0]), g.Y(found[1][1])), nil
}

// middle is the middle of the depth along x: the mean of x weighed by each column's greatest depth above the
// least.
func (g *Grid) middle() float64 {
	deep := make([]float64, g.Columns)
	for i := range deep {
		deep[i] = math.Inf(-1)
		for j := range g.Rows {
			deep[i] = math.Max(deep[i], g.Z[j*g.Columns+i])
		}
	}
	least := slices.Min(deep)
	sum, weight := 0.0, 1e-9
	for i, d := range deep {
		sum += (d - least) * g.X(i)
		weight += d - least
	}
	return sum / weight
}

// peak tells whether a cell lies deeper than the eight around it.
func (g *Grid) peak(i, j int) bool {
	at := j*g.Columns + i
	for dj := -1; dj <= 1; dj++ {
		for di := -1; di <= 1; di++ {
			if (di != 0 || dj != 0) && g.Z[at+dj*g.Columns+di] >= g.Z[at] {
				return false
			}
		}
	}
	return true
}

// refine takes a rough bottom to the vertex of the quadratic about it, in a few turns.
func (s *Surface) refine(x, y float64) Bottom {
	out := Bottom{X: x, Y: y, Z: s.At(x, y), Radius: math.Inf(1)}
	n := 2*int(reach/fine) + 1
	fit := quadraticFit(n, fine)
	z := make([]float64, n*n)
	for range 5 {
		for k := range z {
			z[k] = s.At(out.X+(float64(k%n)-reach/fine)*fine, out.Y+(float64(k/n)-reach/fine)*fine)
		}
		q := fit(z)
		dx, dy, ok := q.vertex()
		if !ok || math.Hypot(dx, dy) > reach {
			break
		}
		out.X, out.Y, out.Z, out.Radius = out.X+dx, out.Y+dy, q.at(dx, dy), q.radius()
		if math.Hypot(dx, dy) < 0.01 {
			break
		}
	}
	sectors := map[int]bool{}
	for _, h := range s.heights {
		if d := math.Hypot(h.X-out.X, h.Y-out.Y); d < NearRadius {
			out.Near++
			sectors[int(6*(math.Atan2(h.Y-out.Y, h.X-out.X)+math.Pi)/(2*math.Pi+1e-9))] = true
		}
	}
	out.Around = len(sectors)
	return out
}

// quadratic is z = c0 + c1 x + c2 y + c3 x^2 + c4 y^2 + c5 x y.
type quadratic [6]float64

func (q quadratic) at(x, y float64) float64 {
	return q[0] + q[1]*x + q[2]*y + q[3]*x*x + q[4]*y*y + q[5]*x*y
}

// vertex is where its top is; false where it has none.
func (q quadratic) vertex() (x, y float64, ok bool) {
	a, b, c := 2*q[3], q[5], 2*q[4]
	det := a*c - b*b
	if !(det > 0) || !(a < 0) {
		return 0, 0, false
	}
	return (-q[1]*c + q[2]*b) / det, (-q[2]*a + q[1]*b) / det, true
}

// radius of curvature, mm: of the mean of both curvatures.
func (q quadratic) radius() float64 {
	mean := -(q[3] + q[4])
	if !(mean > 0) {
		return math.Inf(1)
	}
	return 1 / mean
}

// quadraticFit returns the least-squares fit of a quadratic to n x n heights on a grid of step mm about the
// middle.
func quadraticFit(n int, step float64) func(z []float64) quadratic {
	a := mat.NewDense(n*n, 6, nil)
	for k := range n * n {
		x, y := (float64(k%n)-float64(n-1)/2)*step, (float64(k/n)-float64(n-1)/2)*step
		a.SetRow(k, []float64{1, x, y, x * x, y * y, x * y})
	}
	var normal, inverse, solve mat.Dense
	normal.Mul(a.T(), a)
	if err := inverse.Inverse(&normal); err != nil {
		panic("surface: a full grid fixes a quadratic") // n is a constant of this package
	}
	solve.Mul(&inverse, a.T())
	return func(z []float64) (q quadratic) {
		for i := range q {
			row := solve.RawRowView(i)
			for k, v := range z {
				q[i] += row[k] * v
			}
		}
		return q
	}
}
