package ink

import "math"

// The parameters of one side of the pressure surface. Lengths are in mm, heights in units of the geometric
// mean of the two dents' heights. The left side's come first, then the right side's, then those that both
// share.
const (
	atX    = iota // the dent's own middle
	atY           //
	atLong        // ln of the half length along the long axis
	atWide        // ln of the half length across
	// rad, how far the long axis is turned from the front-back line, the other way on the other side
	atToe
	atTilt  // how much harder one end is pressed than the other
	atOut   // how far outward the basin's middle lies from the dent's
	atBack  // how far backward
	perSide // how many these are
)

const (
	atRatio = 2*perSide + iota // ln of the right dent's height over the left one's
	atFlat                     // ln of the exponent along the long axis: 2 round, more flat with steep ends
	atPower                    // ln of the profile's exponent: 2 for a bell
	atTail                     // ln of the tail's weight: exp(-s/2) at 0, heavier above
	// ln of the crest's sag: half a length off its middle a dent is 1 + sag times lower for it
	atSag
	atBasin    // ln of the basin's height
	atBasinX   // ln of its half widths
	atBasinY   //
	atSill     // ln of the pressure that leaves no ink
	atInk      // ln of the saturated density
	atGain     // ln of the density's growth with pressure
	atBend     // ln of the exponent of that growth
	atPaper    // six of the paper's brightness
	parameters = atPaper + 6
)

const (
	tiltLength = 20.0 // mm along over which a tilt turns over: about a half length
	blunt      = 0.05 // mm, rounds |u| where it is zero
	// thinTail is the tail below which the profile four half lengths out is nothing: (1 + 0.05 16/2)^-20 = 1e-3,
	// and less where the exponent is above 2.
	thinTail = 0.05
)

// dent is one side of the surface with the functions of its parameters taken.
type dent struct {
	x, y, side            float64 // middle, mm; -1 left, +1 right
	cos, sin              float64 // direction of the long axis
	along, across         float64 // 1 / half lengths, 1/mm
	height, tilt          float64
	flat, power, tail     float64
	sag                   float64
	hertz                 bool
	basin, basinX, basinY float64 // height; middle, mm
	narrowX, narrowY      float64 // 1 / half widths squared, 1/mm^2
}

// dents takes the parameters apart.
func dents(p []float64, hertz bool) (d [2]dent) {
	for k := range d {
		q := p[k*perSide:]
		side := float64(2*k - 1)
		sin, cos := math.Sincos(math.Pi/2 + side*q[atToe])
		d[k] = dent{
			x: q[atX], y: q[atY], side: side, cos: cos, sin: sin,
			along: math.Exp(-q[atLong]), across: math.Exp(-q[atWide]),
			height: math.Exp(side * p[atRatio] / 2), tilt: q[atTilt],
			flat: math.Exp(p[atFlat]), power: math.Exp(p[atPower]), tail: math.Exp(p[atTail]), hertz: hertz,
			sag:   math.Exp(p[atSag]),
			basin: math.Exp(p[atBasin]), basinX: q[atX] + side*q[atOut], basinY: q[atY] + q[atBack],
			narrowX: math.Exp(-2 * p[atBasinX]), narrowY: math.Exp(-2 * p[atBasinY]),
		}
	}
	return d
}

// profile is the dent's own height at the squared distance r2 from its middle, in half lengths, with its
// derivatives by r2 and by the logarithms of power and tail: a half space under a ball, or (1 + tail
// s/2)^(-1/tail) with s = r^power, which is a bell for power 2 and tail 0.
func (d *dent) profile(r2 float64) (h, byR2, byPower, byTail float64) {
	if d.hertz {
		r := math.Sqrt(r2)
		h, slope := hertz(r)
		return d.height * h, d.height * slope / (2 * r), 0, 0
	}
	ln := math.Log(r2)
	s := math.Exp(d.power / 2 * ln)
	heavy := 1 + d.tail*s/2
	lnHeavy := math.Log(heavy)
	h = d.height * math.Exp(-lnHeavy/d.tail)
	byS := -h / (2 * heavy)
	return h, byS * d.power / 2 * s / r2, byS * s * d.power / 2 * ln, h * (lnHeavy/d.tail - s/(2*heavy))
}

// hertz is the surface of a half space pressed by a ball, over its depth at the middle, at t contact radii,
// and its derivative (Johnson, Contact Mechanics, 1985, section 3.4 and equation 3.42; equation's number from
// memory, the book settles it).
func hertz(t float64) (h, slope float64) {
	if t <= 1 {
		return 1 - t*t/2, -t
	}
	root, arc := math.Sqrt(t*t-1), math.Asin(1/t)
	return ((2-t*t)*arc + root) / math.Pi, 2 * (root/t - t*arc) / math.Pi
}

// at is the pressure that the dent and its basin bring at (x, y). Where by is not nil, the derivatives by the
// parameters are added to it.
func (d *dent) at(x, y float64, by []float64) float64 {
	dx, dy := x-d.x, y-d.y
	u, v := dx*d.cos+dy*d.sin, dy*d.cos-dx*d.sin
	ex, ey := x-d.basinX, y-d.basinY
	b := d.basin * math.Exp(-(ex*ex*d.narrowX+ey*ey*d.narrowY)/2)
	if d.tail < thinTail && !d.hertz && math.Max(math.Abs(u)*d.along, math.Abs(v)*d.across) > 4 {
		d.basinBy(b, ex, ey, by)
		return b
	}
	abs := math.Sqrt(u*u + blunt*blunt)
	lnU := math.Log(abs * d.along)
	along, across := math.Exp(d.flat*lnU), v*v*d.across*d.across
	h, byR2, byPower, byTail := d.profile(along + across + 1e-9)
	tu := math.Tanh(u / tiltLength)
	sunk := d.sag * u * u * d.along * d.along
	crest := 1 / (1 + sunk)
	skew := (1 + d.tilt*tu) * crest
	if by == nil {
		return h*skew + b
	}
	own := d.basinBy(b, ex, ey, by)
	bySunk := -h * skew * crest * sunk // by ln of sunk
	byR2 *= skew
	byAlong := byR2 * d.flat * along // by ln of u
	byU := (byAlong+2*bySunk)*u/(abs*abs) + h*crest*d.tilt*(1-tu*tu)/tiltLength
	byV := byR2 * 2 * v * d.across * d.across
	own[atX] += byV*d.sin - byU*d.cos
	own[atY] -= byU*d.sin + byV*d.cos
	own[atLong] -= byAlong + 2*bySunk
	own[atWide] -= byR2 * 2 * across
	own[atToe] += d.side * (byU*v - byV*u)
	own[atTilt] += h * crest * tu
	by[atRatio] += d.side / 2 * h * skew
	by[atFlat] += byAlong * lnU
	by[atPower] += byPower * skew
	by[atTail] += byTail * skew
	by[atSag] += bySunk
	return h*skew + b
}

// basinBy adds the basin's derivatives at (ex, ey) from its middle, where it is b high, and returns the
// side's own part.
func (d *dent) basinBy(b, ex, ey float64, by []float64) []float64 {
	if by == nil {
		return nil
	}
	own := by
	if d.side > 0 {
		own = by[perSide:]
	}
	byX, byY := b*ex*d.narrowX, b*ey*d.narrowY
	own[atX] += byX
	own[atY] += byY
	own[atOut] += d.side * byX
	own[atBack] += byY
	by[atBasin] += b
	by[atBasinX] += byX * ex
	by[atBasinY] += byY * ey
	return own
}

// shape is the pressure without bumps: two dents' or a body's. middle says where a side's own middle is, mm.
type shape interface {
	at(x, y float64) float64
	middle(k int) (x, y float64)
}

// dented is the pressure of two dents and their basins.
type dented [2]dent

func (d *dented) at(x, y float64) float64 { return d[0].at(x, y, nil) + d[1].at(x, y, nil) }

// slopes is at, and adds the derivatives by the parameters to by.
func (d *dented) slopes(x, y float64, by []float64) float64 {
	return d[0].at(x, y, by) + d[1].at(x, y, by)
}

func (d *dented) middle(k int) (x, y float64) { return d[k].x, d[k].y }

// shape is the family's, with the front up (+1) or down (-1).
func (f family) shape(p []float64, front float64) shape {
	if f.body {
		return newBody(p, front)
	}
	d := dented(dents(p, f.hertz))
	return &d
}
