package relief

import "math"

// The shape's parameters: two dents, the basin that both share, and their differences. Lengths in mm, angles
// in rad, ln where a number must stay positive. Left and right of a pair are the mean minus and plus the half
// difference.
const (
	leftX = iota
	leftY
	rightX
	rightY
	lnWidth    // of the short axis's standard deviation, mean of both dents
	lnOblong   // long over short axis
	toe        // how far the long axes turn together toward the front
	lnFlatness // exponent: 0 is a bell, more is flatter at the bottom and steeper at the rim
	lnRatio    // depth of the right dent over the left one's, basin apart
	basinDepth // over the dents' mean depth
	basinOut   // how far outward of its dent a side's basin has its middle
	basinBack  // and how far back (y)
	lnBasinX   // its standard deviations
	lnBasinY
	halfWidth  // half differences, right less left
	halfOblong // ...
	halfTurn   // the same turn for both: the pair's yaw
	halfFlatness
	lnDepth // of dents and basin together, mean of both sides
	shapes  // how many; the amplitudes of free bumps follow
)

// hump is depth (mm, positive downward) at a place, with its gradient and Hessian by x and y.
type hump struct{ d, x, y, xx, xy, yy float64 }

func (h *hump) add(g hump, k float64) {
	h.d, h.x, h.y = h.d+k*g.d, h.x+k*g.x, h.y+k*g.y
	h.xx, h.xy, h.yy = h.xx+k*g.xx, h.xy+k*g.xy, h.yy+k*g.yy
}

// slope is the part of a hump that shades: its depth and gradient. As a derivative: of those by a parameter.
type slope struct{ d, x, y float64 }

// surface is a relief: two dents exp(-q/2), q = (u^2 + v^2)^w along and across each, in two halves of a basin
// exp(-r^2/2), and free bumps laid on top. t are the parameters.
type surface struct {
	t     []float64
	sides [2]dent
	scale float64 // mm of depth per unit of dent
	bumps *bumps
}

// dent is one side's own dent and its half of the basin, unpacked.
type dent struct {
	side, cx, cy         float64 // -1 left, 1 right; centre
	along, across        float64 // standard deviations
	ca, sa               float64 // direction of the long axis
	power, height        float64
	bx, by, basin        float64 // the basin's standard deviations and height
	basinX, basinY       float64 // its middle
	tx, ty, nx, ny, ratA float64 // axes over their standard deviations; across/along
}

func newSurface(t []float64, b *bumps) surface {
	s := surface{t: t, scale: math.Exp(t[lnDepth]) / (1 + t[basinDepth]), bumps: b}
	for k, side := range []float64{-1, 1} {
		d := dent{side: side, cx: t[2*k], cy: t[2*k+1], power: math.Exp(t[lnFlatness] + side*t[halfFlatness]),
			height: math.Exp(side * t[lnRatio] / 2)}
		d.across = math.Exp(t[lnWidth] + side*t[halfWidth])
		d.along = d.across * math.Exp(t[lnOblong]+side*t[halfOblong])
		d.sa, d.ca = math.Sincos(d.direction(t))
		d.bx, d.by, d.basin = math.Exp(t[lnBasinX]), math.Exp(t[lnBasinY]), t[basinDepth]
		d.basinX, d.basinY = d.cx+side*t[basinOut], d.cy+t[basinBack]
		d.tx, d.ty, d.nx, d.ny = d.ca/d.along, d.sa/d.along, -d.sa/d.across, d.ca/d.across
		d.ratA = d.across / d.along
		s.sides[k] = d
	}
	return s
}

// direction is that of the dent's long axis: 90 degrees and the toe, turned by the pair's yaw.
func (d dent) direction(t []float64) float64 { return math.Pi/2 + d.side*t[toe] + t[halfTurn] }

// at is the surface at a place of the pad, mm.
func (s *surface) at(x, y float64) (h hump) {
	for k := range s.sides {
		h.add(s.sides[k].own(x, y).hump, s.scale)
		h.add(s.sides[k].bowl(x, y).hump, s.scale)
	}
	s.bumps.addTo(&h, s.t[shapes:], x, y)
	return h
}

// bell is a dent's own hump with what its derivatives need.
type bell struct {
	hump
	u, v, gx, gy float64 // place along and across; gradient of (u^2+v^2)/2
	first        float64 // of the hump by u^2+v^2
	second       float64
	lnPower      float64 // of the hump by the exponent's ln, relative
	lnRho        float64
}

const blunt = 1e-4 // of u^2+v^2: keeps the bottom smooth where the exponent is below 1

func (d *dent) own(x, y float64) (b bell) {
	ex, ey := x-d.cx, y-d.cy
	b.u, b.v = ex*d.tx+ey*d.ty, ex*d.nx+ey*d.ny
	rho := b.u*b.u + b.v*b.v + blunt
	b.lnRho = math.Log(rho)
	q := math.Exp(d.power * b.lnRho)
	b.d = d.height * math.Exp(-q/2)
	b.first = -d.power * q / (2 * rho) * b.d
	b.second = b.first * (d.power - 1 - d.power*q/2) / rho
	b.gx, b.gy = b.u*d.tx+b.v*d.nx, b.u*d.ty+b.v*d.ny
	b.x, b.y = 2*b.first*b.gx, 2*b.first*b.gy
	b.xx = 4*b.second*b.gx*b.gx + 2*b.first*(d.tx*d.tx+d.nx*d.nx)
	b.xy = 4*b.second*b.gx*b.gy + 2*b.first*(d.tx*d.ty+d.nx*d.ny)
	b.yy = 4*b.second*b.gy*b.gy + 2*b.first*(d.ty*d.ty+d.ny*d.ny)
	b.lnPower = -q * d.power * b.lnRho / 2
	return b
}

// by is the derivative of the bell's depth and gradient by something that changes u^2+v^2 by rho and half its
// gradient by (gx, gy).
func (b *bell) by(rho, gx, gy float64) slope {
	return slope{b.first * rho, 2 * (b.second*rho*b.gx + b.first*gx), 2 * (b.second*rho*b.gy + b.first*gy)}
}

// bowl is a side's half of the basin; e1 and e2 are the place in its standard deviations.
type bowl struct {
	hump
	e1, e2 float64
}

func (d *dent) bowl(x, y float64) (b bowl) {
	b.e1, b.e2 = (x-d.basinX)/d.bx, (y-d.basinY)/d.by
	b.d = d.basin * math.Exp(-(b.e1*b.e1+b.e2*b.e2)/2)
	b.x, b.y = -b.d*b.e1/d.bx, -b.d*b.e2/d.by
	b.xx, b.yy = b.d*(b.e1*b.e1-1)/(d.bx*d.bx), b.d*(b.e2*b.e2-1)/(d.by*d.by)
	b.xy = b.d * b.e1 * b.e2 / (d.bx * d.by)
	return b
}

// derivatives fills dst with the derivatives of the surface's depth and gradient at a place by every
// parameter, and returns the surface there.
func (s *surface) derivatives(dst []slope, x, y float64) (h hump) {
	clear(dst)
	for k := range s.sides {
		d := &s.sides[k]
		own, bowl := d.own(x, y), d.bowl(x, y)
		h.add(own.hump, 1)
		h.add(bowl.hump, 1)
		d.ownDerivatives(dst, &own)
		d.bowlDerivatives(dst, &bowl)
		both := own.hump
		both.add(bowl.hump, 1)
		dst[2*k].add(slope{both.x, both.xx, both.xy}, -1)
		dst[2*k+1].add(slope{both.y, both.xy, both.yy}, -1)
	}
	dst[basinDepth].add(slope{h.d, h.x, h.y}, -1/(1+s.t[basinDepth])) // the scale falls as the basin grows
	dst[lnDepth] = slope{h.d, h.x, h.y}
	for j := range dst[:shapes] {
		dst[j] = slope{dst[j].d * s.scale, dst[j].x * s.scale, dst[j].y * s.scale}
	}
	var scaled hump
	scaled.add(h, s.scale)
	s.bumps.derivatives(dst[shapes:], x, y)
	s.bumps.addTo(&scaled, s.t[shapes:], x, y)
	return scaled
}

func (s *slope) add(g slope, k float64) { s.d, s.x, s.y = s.d+k*g.d, s.x+k*g.x, s.y+k*g.y }

func (d *dent) ownDerivatives(dst []slope, b *bell) {
	long := b.by(-2*b.u*b.u, -2*b.u*d.tx, -2*b.u*d.ty) // by ln along
	short := b.by(-2*b.v*b.v, -2*b.v*d.nx, -2*b.v*d.ny)
	size := long
	size.add(short, 1)
	dst[lnWidth].add(size, 1)
	dst[halfWidth].add(size, d.side)
	dst[lnOblong].add(long, 1)
	dst[halfOblong].add(long, d.side)
	ua, va := b.v*d.ratA, -b.u/d.ratA // how u and v change as the axes turn
	turn := b.by(2*(b.u*ua+b.v*va), ua*d.tx+b.u*d.nx*d.ratA+va*d.nx-b.v*d.tx/d.ratA,
		ua*d.ty+b.u*d.ny*d.ratA+va*d.ny-b.v*d.ty/d.ratA)
	dst[toe].add(turn, d.side)
	dst[halfTurn].add(turn, 1)
	k := 1 + d.power*b.lnRho + b.lnPower
	power := slope{b.d * b.lnPower, b.x * k, b.y * k}
	dst[lnFlatness].add(power, 1)
	dst[halfFlatness].add(power, d.side)
	dst[lnRatio].add(slope{b.d, b.x, b.y}, d.side/2)
}

func (d *dent) bowlDerivatives(dst []slope, b *bowl) {
	dst[basinOut].add(slope{b.x, b.xx, b.xy}, -d.side)
	dst[basinBack].add(slope{b.y, b.xy, b.yy}, -1)
	g := math.Exp(-(b.e1*b.e1 + b.e2*b.e2) / 2)
	dst[basinDepth].add(slope{g, -g * b.e1 / d.bx, -g * b.e2 / d.by}, 1)
	dst[lnBasinX].add(slope{b.d * b.e1 * b.e1, b.x * (b.e1*b.e1 - 2), b.y * b.e1 * b.e1}, 1)
	dst[lnBasinY].add(slope{b.d * b.e2 * b.e2, b.x * b.e2 * b.e2, b.y * (b.e2*b.e2 - 2)}, 1)
}

// bottom goes downhill to the deepest point near a place: Newton's steps where the surface is a bowl, steps
// along the slope where it is not yet. False where there is no bottom within reach.
func (s *surface) bottom(from Point) (at Point, h hump, found bool) {
	at = from
	for range 100 {
		h = s.at(at.X, at.Y)
		dx, dy := h.newton()
		if n := math.Hypot(dx, dy); n > longestStep {
			dx, dy = dx*longestStep/n, dy*longestStep/n
		}
		at.X, at.Y = at.X+dx, at.Y+dy
		if math.Hypot(at.X-from.X, at.Y-from.Y) > bottomReach {
			return at, h, false
		}
		if math.Hypot(dx, dy) < 1e-7 {
			h = s.at(at.X, at.Y)
			return at, h, h.xx < 0 && h.xx*h.yy > h.xy*h.xy
		}
	}
	return at, h, false
}

const (
	longestStep = 2.0  // mm, toward the bottom
	bottomReach = 30.0 // mm from the dent's own middle
)

// newton is the step to where the gradient vanishes, or one uphill of depth where there is no such place.
func (h *hump) newton() (dx, dy float64) {
	det := h.xx*h.yy - h.xy*h.xy
	if det > 1e-9 && h.xx < 0 {
		return -(h.yy*h.x - h.xy*h.y) / det, -(h.xx*h.y - h.xy*h.x) / det
	}
	n := math.Hypot(h.x, h.y) + 1e-12
	return longestStep * h.x / n, longestStep * h.y / n
}
