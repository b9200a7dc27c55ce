package relief

import (
	"fmt"
	"math"
)

const (
	padStep    = 4.0  // mm between the pad's cells on which the shading is compared
	padReach   = 45.0 // mm round either dent's start: what lies farther says little and holds the frame's shadow
	leastCells = 200  // shown in each photo, of some 600: two dents' worth
)

// padCells are the places of the pad, mm, on which all photos are compared.
func padCells(centres [2]Point) (cells []Point) {
	for y := Front + 1; y <= -Front-1; y += padStep {
		for x := Left + 1; x <= -Left-1; x += padStep {
			p := Point{x, y}
			if math.Min(distance(p, centres[0]), distance(p, centres[1])) < padReach {
				cells = append(cells, p)
			}
		}
	}
	return cells
}

func distance(a, b Point) float64 { return math.Hypot(a.X-b.X, a.Y-b.Y) }

// look is one photo as the shading sees it: ln of its light on the frame's plane, and where the camera stood.
type look struct {
	log    []float64 // on the window's grid, smoothed over some 4 mm
	hidden []bool
	view   View
	frame  FrameLight
	lit    bool // the frame's white tells the light

	// of each pad cell: 0 where hidden, less than 1 for what does not follow the model; over noise
	weight []float64
	noise  float64 // ln of light: the misfit's robust deviation, inflated by how far the misfit hangs together
	misfit float64 // ln of light, root mean square, as it is
}

func newLook(w Window) (*look, error) {
	if len(w.Light) != Cells {
		return nil, fmt.Errorf("a window has %d cells, not %d", Cells, len(w.Light))
	}
	for _, v := range []float64{w.View.X, w.View.Y, w.View.Height} {
		if math.IsNaN(v) || math.IsInf(v, 0) {
			return nil, fmt.Errorf("the camera's place is not finite: %v", w.View)
		}
	}
	light := make([]float64, Cells)
	k := &look{hidden: make([]bool, Cells), view: w.View, frame: w.Frame, lit: w.Frame != FrameLight{}}
	for i, v := range w.Light {
		if light[i] = v; math.IsInf(v, 0) {
			light[i] = math.NaN()
		}
		k.hidden[i] = math.IsNaN(light[i])
	}
	l, hidden := logLight(light)
	if hidden > Cells/2 {
		return nil, ErrNoWindow
	}
	k.log = smooth(l)
	return k, nil
}

// smooth weighs each cell with its neighbours 1:2:1 along both axes, which takes the grain off and makes the
// 2 mm grid fit to be read every 4 mm.
func smooth(l []float64) []float64 {
	rows, out := make([]float64, Cells), make([]float64, Cells)
	for i := range l {
		x := i % Columns
		rows[i] = (l[i-min(x, 1)] + 2*l[i] + l[i+min(Columns-1-x, 1)]) / 4
	}
	for i := range l {
		y := i / Columns
		out[i] = (rows[i-Columns*min(y, 1)] + 2*rows[i] + rows[i+Columns*min(Rows-1-y, 1)]) / 4
	}
	return out
}

// shown says whether the picture holds what surrounds a place of the plane.
func (k *look) shown(p Point) bool {
	x, y := int(math.Floor((p.X-Left)/Step)), int(math.Floor((p.Y-Front)/Step))
	if x < 0 || y < 0 || x+1 >= Columns || y+1 >= Rows {
		return false
	}
	i := y*Columns + x
	return !(k.hidden[i] || k.hidden[i+1] || k.hidden[i+Columns] || k.hidden[i+Columns+1])
}

// at reads ln of the light at a place of the plane with its gradient per mm, by Catmull and Rom's cubic
// through the grid (continuous slopes, so that a search may follow them); the border's cells stand for what
// lies beyond.
func (k *look) at(p Point) (v, gx, gy float64) {
	fx, fy := (p.X-Left)/Step, (p.Y-Front)/Step
	x0, y0 := math.Floor(fx), math.Floor(fy)
	wx, dx := catmullRom(fx - x0)
	wy, dy := catmullRom(fy - y0)
	for j := range 4 {
		row := Columns * clampInt(int(y0)+j-1, Rows-1)
		var s, t float64
		for i := range 4 {
			l := k.log[row+clampInt(int(x0)+i-1, Columns-1)]
			s += wx[i] * l
			t += dx[i] * l
		}
		v += wy[j] * s
		gx += wy[j] * t
		gy += dy[j] * s
	}
	return v, gx / Step, gy / Step
}

func clampInt(i, most int) int { return max(0, min(most, i)) }

// catmullRom are the weights of the four neighbours at t between the middle two, and their derivatives.
func catmullRom(t float64) (w, d [4]float64) {
	t2, t3 := t*t, t*t*t
	return [4]float64{(-t3 + 2*t2 - t) / 2, (3*t3 - 5*t2 + 2) / 2, (-3*t3 + 4*t2 + t) / 2, (t3 - t2) / 2},
		[4]float64{(-3*t2 + 4*t - 1) / 2, (9*t2 - 10*t) / 2, (-9*t2 + 8*t + 1) / 2, (3*t2 - 2*t) / 2}
}

// seenAt is where on the plane the pad's point p, d mm below it, is seen: equation (1) turned round. byDepth
// is its change per mm of depth.
func (v View) seenAt(p Point, d float64) (at, byDepth Point) {
	if v.Height <= 0 {
		return p, Point{}
	}
	f := v.Height / (v.Height + d)
	k := -f / (v.Height + d)
	return Point{v.X + (p.X-v.X)*f, v.Y + (p.Y-v.Y)*f}, Point{(p.X - v.X) * k, (p.Y - v.Y) * k}
}

// below is equation (1): the pad's point that is seen at p when it lies d mm below the plane.
func (v View) below(p Point, d float64) Point {
	if v.Height <= 0 {
		return p
	}
	f := (v.Height + d) / v.Height
	return Point{v.X + (p.X-v.X)*f, v.Y + (p.Y-v.Y)*f}
}
