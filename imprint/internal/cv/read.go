package cv

import (
	"math"

	"sitspan/calibration"
)

const (
	// payloadSide and markSide are the mark's modules a side without and with
	// its black border.
	payloadSide = markSide - 2
	markSide    = calibration.MarkModules
	// minContrast is the least step from border to surround, in grey levels,
	// at which the modules are read: three times the noise of a poor photo.
	minContrast = 12
	// maxBorderErrors is how many of the 24 border modules may look light: a
	// glint or a crumb, not a missing side.
	maxBorderErrors = 2
)

// at interpolates the plane bilinearly at (x, y) px; beyond the rim the
// nearest pixel stands in.
func (p plane8) at(x, y float64) float64 {
	x, y = min(max(x, 0), float64(p.w-1)), min(max(y, 0), float64(p.h-1))
	ix, iy := min(int(x), max(0, p.w-2)), min(int(y), max(0, p.h-2))
	fx, fy := x-float64(ix), y-float64(iy)
	i := iy*p.w + ix
	right, down := 0, 0
	if p.w > 1 {
		right = 1
	}
	if p.h > 1 {
		down = p.w
	}
	a, b := float64(p.pix[i]), float64(p.pix[i+right])
	c, d := float64(p.pix[i+down]), float64(p.pix[i+down+right])
	return (a*(1-fx)+b*fx)*(1-fy) + (c*(1-fx)+d*fx)*fy
}

// fromUnitSquare maps the unit square, (0,0) top left and y down, onto the
// four corners; Heckbert, Fundamentals of Texture Mapping and Image Warping
// (1989), section 2.2.3, from memory.
type fromUnitSquare struct{ a, b, c, d, e, f, g, h float64 }

func newFromUnitSquare(q [4]Pixel) fromUnitSquare {
	sx, sy := q[0].X-q[1].X+q[2].X-q[3].X, q[0].Y-q[1].Y+q[2].Y-q[3].Y
	dx1, dy1 := q[1].X-q[2].X, q[1].Y-q[2].Y
	dx2, dy2 := q[3].X-q[2].X, q[3].Y-q[2].Y
	den := dx1*dy2 - dx2*dy1 // non-zero for the convex quads that reach here
	g, h := (sx*dy2-dx2*sy)/den, (dx1*sy-sx*dy1)/den
	return fromUnitSquare{
		q[1].X - q[0].X + g*q[1].X, q[3].X - q[0].X + h*q[3].X, q[0].X,
		q[1].Y - q[0].Y + g*q[1].Y, q[3].Y - q[0].Y + h*q[3].Y, q[0].Y, g, h,
	}
}

func (t fromUnitSquare) apply(u, v float64) Pixel {
	w := t.g*u + t.h*v + 1
	return Pixel{X: (t.a*u + t.b*v + t.c) / w, Y: (t.d*u + t.e*v + t.f) / w}
}

// moduleGrid holds the grey level of the mark's 7 x 7 modules and of the ring
// of paper round it, row and column 0 and 8 being that ring.
type moduleGrid [markSide + 2][markSide + 2]float64

// readModules averages 4 x 4 points in the middle of each module, and narrow
// strips just outside the border for the ring.
func readModules(p plane8, q [4]Pixel) moduleGrid {
	t := newFromUnitSquare(q)
	var grid moduleGrid
	for row := range grid {
		for col := range grid[row] {
			cu, cv := (float64(col)-0.5)/markSide, (float64(row)-0.5)/markSide
			sum := 0.0
			for i := range 4 {
				for j := range 4 {
					// Points at -0.225 to +0.225 modules: inside even where the
					// outline is a third of a module off.
					px := t.apply(cu+(float64(j)-1.5)*0.15/markSide, cv+(float64(i)-1.5)*0.15/markSide)
					sum += p.at(px.X, px.Y)
				}
			}
			grid[row][col] = sum / 16
		}
	}
	return grid
}

// limits are the grey levels of paper and ink along one side of the mark.
type limits struct{ light, dark [markSide]float64 }

// side collects paper and ink along a side. A scale's tick may darken the
// ring at one module, so each module takes the lightest of its neighbours.
func (g *moduleGrid) side(ring, border func(i int) float64) limits {
	var l limits
	for i := range markSide {
		l.light[i] = math.Max(ring(i), math.Max(ring(max(0, i-1)), ring(min(markSide-1, i+1))))
		l.dark[i] = border(i)
	}
	return l
}

// thresholds returns the black-white boundary for each module and the mean
// contrast. Opposite sides are blended linearly, so that a shadow's edge
// across the mark moves the boundary with it.
func (g *moduleGrid) thresholds() (boundary [markSide][markSide]float64, contrast float64) {
	top := g.side(func(i int) float64 { return g[0][i+1] }, func(i int) float64 { return g[1][i+1] })
	bottom := g.side(func(i int) float64 { return g[markSide+1][i+1] }, func(i int) float64 { return g[markSide][i+1] })
	left := g.side(func(i int) float64 { return g[i+1][0] }, func(i int) float64 { return g[i+1][1] })
	right := g.side(func(i int) float64 { return g[i+1][markSide+1] }, func(i int) float64 { return g[i+1][markSide] })
	middle := func(l limits, i int) float64 { return (l.light[i] + l.dark[i]) / 2 }
	for row := range markSide {
		for col := range markSide {
			u, v := float64(col)/(markSide-1), float64(row)/(markSide-1)
			across := middle(left, row)*(1-u) + middle(right, row)*u
			down := middle(top, col)*(1-v) + middle(bottom, col)*v
			boundary[row][col] = (across + down) / 2
		}
	}
	for _, l := range []limits{top, bottom, left, right} {
		for i := range markSide {
			contrast += (l.light[i] - l.dark[i]) / (4 * markSide)
		}
	}
	return boundary, contrast
}

// readPayload reads the modules inside a quad; wrong counts the border modules
// that look light. ok is false where there is too little contrast to read.
func readPayload(p plane8, q [4]Pixel) (bits calibration.Payload, wrong int, ok bool) {
	grid := readModules(p, q)
	boundary, contrast := grid.thresholds()
	if contrast < minContrast {
		return 0, 0, false
	}
	var white [payloadSide * payloadSide]bool
	for row := range markSide {
		for col := range markSide {
			light := grid[row+1][col+1] > boundary[row][col]
			if row > 0 && col > 0 && row < markSide-1 && col < markSide-1 {
				white[(row-1)*payloadSide+col-1] = light
			} else if light {
				wrong++
			}
		}
	}
	return calibration.PayloadOf(white), wrong, true
}
