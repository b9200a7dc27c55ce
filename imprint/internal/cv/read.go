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
	if !(x >= 0 && y >= 0 && x < float64(p.w-1) && y < float64(p.h-1)) {
		return p.atRim(x, y)
	}
	ix, iy := int(x), int(y)
	fx, fy := x-float64(ix), y-float64(iy)
	i := iy*p.w + ix
	up, low := p.pix[i:i+2], p.pix[i+p.w:i+p.w+2]
	return (float64(up[0])*(1-fx)+float64(up[1])*fx)*(1-fy) +
		(float64(low[0])*(1-fx)+float64(low[1])*fx)*fy
}

// atRim likewise, of any place.
func (p plane8) atRim(x, y float64) float64 {
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
// (1989), section 2.2.3 (the section from memory: the map follows from its four
// corners).
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

// logGrey turns a grey level into the logarithm that light and shadow only
// shift; the offset stands for stray light and keeps black finite.
func logGrey(v float64) float64 { return math.Log(v + 4) }

// limits are the logarithmic levels of paper and ink along one side of the
// mark: top, right, bottom, left.
type limits struct{ light, dark [markSide]float64 }

// sides collects paper and ink along the four sides. A scale's tick may darken
// the ring at one module, so each takes the lightest of its neighbours.
func (g *moduleGrid) sides() (all [4]limits) {
	const last = markSide + 1
	cell := func(side, depth, i int) float64 {
		switch side {
		case 0:
			return g[depth][i+1]
		case 1:
			return g[i+1][last-depth]
		case 2:
			return g[last-depth][i+1]
		default:
			return g[i+1][depth]
		}
	}
	for side := range all {
		for i := range markSide {
			light := max(cell(side, 0, i), cell(side, 0, max(0, i-1)), cell(side, 0, min(markSide-1, i+1)))
			all[side].light[i], all[side].dark[i] = logGrey(light), logGrey(cell(side, 1, i))
		}
	}
	return all
}

// contrast is the median step from border to ring over all sides: in grey
// levels, and in logarithms.
func contrast(all [4]limits) (levels, logs float64) {
	var a, b []float64
	for _, l := range all {
		for i := range markSide {
			a = append(a, math.Exp(l.light[i])-math.Exp(l.dark[i]))
			b = append(b, l.light[i]-l.dark[i])
		}
	}
	return median(a), median(b)
}

// lightBorder counts the border modules that are not dark against the paper
// next to them. A shadow scales both, so that the ratio is the measure.
func lightBorder(all [4]limits, logs float64) (wrong int) {
	for _, l := range all {
		for i := range markSide - 1 { // each corner module once
			if l.light[i]-l.dark[i] < 0.5*logs {
				wrong++
			}
		}
	}
	return wrong
}

// blended says whether a payload module is white by the boundary between the
// sides' own, interpolated linearly: right where the light varies smoothly.
func blended(all [4]limits, row, col int, v float64) bool {
	middle := func(side, i int) float64 { return (all[side].light[i] + all[side].dark[i]) / 2 }
	x, y := float64(col)/(markSide-1), float64(row)/(markSide-1)
	across := middle(3, row)*(1-x) + middle(1, row)*x
	down := middle(0, col)*(1-y) + middle(2, col)*y
	return v > (across+down)/2
}

// nearest says whether a payload module is white by whichever of the four
// sides has a level like it: right where a shadow's edge crosses the mark.
func nearest(all [4]limits, row, col int, v float64) (white bool) {
	best := math.Inf(1)
	for side, i := range [4]int{col, row, col, row} {
		toLight, toDark := math.Abs(v-all[side].light[i]), math.Abs(v-all[side].dark[i])
		if d := min(toLight, toDark); d < best {
			best, white = d, toLight < toDark
		}
	}
	return white
}

// reading is what the modules inside a quad say.
type reading struct {
	id, rotation, distance int     // as calibration.Decode gives them
	decoded                bool    // false: no mark of the control frame
	lightBorder            int     // border modules that are not dark
	black                  modules // as they lie in the quad
	mirrored               []int   // marks whose mirror image the payload is, by either rule
}

// plain tells a payload of one shade, but for a module: a dark square, and no mark, however blurred. A mark
// has nine modules of either shade at the least.
func (r reading) plain() bool {
	if r.decoded {
		return false
	}
	dark := 0
	for _, row := range r.black[1 : markSide-1] {
		for _, black := range row[1 : markSide-1] {
			if black {
				dark++
			}
		}
	}
	return dark <= 1 || dark >= payloadSide*payloadSide-1
}

// border is a mark without its payload's black modules.
var border = func() (b modules) {
	for i := range markSide {
		b[0][i], b[markSide-1][i], b[i][0], b[i][markSide-1] = true, true, true, true
	}
	return b
}()

// readMark reads a quad, trying both rules for the payload. ok is false where
// there is too little contrast to read anything.
func readMark(p plane8, q [4]Pixel) (r reading, ok bool) {
	grid := readModules(p, q)
	all := grid.sides()
	levels, logs := contrast(all)
	if levels < minContrast {
		return r, false
	}
	var mirrored []int
	for _, rule := range []func([4]limits, int, int, float64) bool{blended, nearest} {
		var white [payloadSide * payloadSide]bool
		for i := range white {
			row, col := 1+i/payloadSide, 1+i%payloadSide
			white[i] = rule(all, row, col, logGrey(grid[row+1][col+1]))
		}
		t := reading{black: border}
		for i, w := range white {
			t.black[1+i/payloadSide][1+i%payloadSide] = !w
		}
		payload := calibration.PayloadOf(white)
		t.id, t.rotation, t.distance, t.decoded = calibration.Decode(payload)
		if id, _, _, ok := calibration.Decode(payload.Mirrored()); ok {
			mirrored = append(mirrored, id)
		}
		if !r.decoded || t.decoded && t.distance < r.distance {
			r = t
		}
		if r.decoded && r.distance == 0 {
			break
		}
	}
	r.lightBorder, r.mirrored = lightBorder(all, logs), mirrored
	return r, true
}
