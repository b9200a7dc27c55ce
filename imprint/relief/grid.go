package relief

import (
	"math"
	"sync"
)

// The grid on which the window is read: the centres of 2 mm cells, row by row from the front left, 3 mm clear
// of the window's edge in x and 7 mm in y.
const (
	Columns = 104
	Rows    = 64
	Cells   = Columns * Rows
	Step    = 2.0   // mm
	Left    = -103. // x of the first column, mm
	Front   = -63.  // y of the first row, mm
)

// Point is a place on the frame's plane, mm.
type Point struct{ X, Y float64 }

// At is the place of cell i.
func At(i int) Point {
	return Point{Left + Step*float64(i%Columns), Front + Step*float64(i/Columns)}
}

// View is where the camera stood: the point of the plane under it and its height, mm. The zero View is a
// scan, seen straight from above everywhere.
type View struct{ X, Y, Height float64 }

// slopes are the horizontal offsets per mm of height of the line of sight through p.
func (v View) slopes(p Point) (x, y float64) {
	if v.Height <= 0 {
		return 0, 0
	}
	return clamp((v.X-p.X)/v.Height, 1.5), clamp((v.Y-p.Y)/v.Height, 1.5)
}

func clamp(v, most float64) float64 { return math.Max(-most, math.Min(most, v)) }

// background is what light and paint without relief are taken to be: a quadratic, fitted over some of the
// cells.
type background struct {
	over []int        // the cells that it is fitted over
	q    [6][]float64 // six functions over the grid that span the quadratics, orthonormal over those cells
}

// Foam lies below the frame, whose edge throws a shadow into the window and hides what is under it; ink lies
// on the frame's own sheet. Either is worked out when it is first needed: a program that only tells its
// version does not wait for it.
var (
	foamBackground = sync.OnceValue(func() background {
		return newBackground(func(p Point) bool { return math.Abs(p.X) < 92 && math.Abs(p.Y) < 56 })
	})
	inkBackground = sync.OnceValue(func() background { return newBackground(func(Point) bool { return true }) })
)

// newBackground runs Gram and Schmidt's process twice, which is enough for double precision.
func newBackground(clear func(Point) bool) (b background) {
	for i := range Cells {
		if clear(At(i)) {
			b.over = append(b.over, i)
		}
	}
	for k := range b.q {
		b.q[k] = make([]float64, Cells)
		for i := range b.q[k] {
			x, y := At(i).X/100, At(i).Y/70
			b.q[k][i] = [6]float64{1, x, y, x * x, y * y, x * y}[k]
		}
		for range 2 {
			for j := range k {
				b.add(b.q[k], b.q[j], -b.dot(b.q[k], b.q[j]))
			}
		}
		n := math.Sqrt(b.dot(b.q[k], b.q[k]))
		for i := range b.q[k] {
			b.q[k][i] /= n
		}
	}
	return b
}

// takeOff takes the fitted quadratic off v, in place.
func (b background) takeOff(v []float64) {
	for _, q := range b.q {
		b.add(v, q, -b.dot(v, q))
	}
}

func (b background) dot(u, v []float64) (s float64) {
	for _, i := range b.over {
		s += u[i] * v[i]
	}
	return s
}

func (background) add(v, q []float64, times float64) {
	for i := range v {
		v[i] += times * q[i]
	}
}

func dot(a, b []float64) (s float64) {
	for i := range a {
		s += a[i] * b[i]
	}
	return s
}
