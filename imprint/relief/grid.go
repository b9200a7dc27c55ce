package relief

import "math"

// The grid on which the window is read: the centres of 2 mm cells, row by row from the front left, 3 mm clear of the
// window's edge in x and 7 mm in y.
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

// View is where the camera stood: the point of the plane under it and its height, mm. The zero View is a scan, seen straight
// from above everywhere.
type View struct{ X, Y, Height float64 }

// slopes are the horizontal offsets per mm of height of the line of sight through p.
func (v View) slopes(p Point) (x, y float64) {
	if v.Height <= 0 {
		return 0, 0
	}
	return clamp((v.X-p.X)/v.Height, 1.5), clamp((v.Y-p.Y)/v.Height, 1.5)
}

func clamp(v, most float64) float64 { return math.Max(-most, math.Min(most, v)) }

// basis are six orthonormal functions over the grid that span the quadratics: what a background of light and paint is taken
// to be.
var basis = orthonormal(func(p Point) [6]float64 {
	x, y := p.X/100, p.Y/70
	return [6]float64{1, x, y, x * x, y * y, x * y}
})

// orthonormal runs Gram and Schmidt's process twice, which is enough for double precision.
func orthonormal(f func(Point) [6]float64) (q [6][]float64) {
	for k := range q {
		q[k] = make([]float64, Cells)
		for i := range q[k] {
			q[k][i] = f(At(i))[k]
		}
		for range 2 {
			for j := range k {
				d := dot(q[k], q[j])
				for i := range q[k] {
					q[k][i] -= d * q[j][i]
				}
			}
		}
		n := math.Sqrt(dot(q[k], q[k]))
		for i := range q[k] {
			q[k][i] /= n
		}
	}
	return q
}

func dot(a, b []float64) (s float64) {
	for i := range a {
		s += a[i] * b[i]
	}
	return s
}
