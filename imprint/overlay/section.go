package overlay

import (
	"image"
	"math"
	"strconv"

	"sitspan/imprint/contour"
)

// sectionStep is the distance in mm of a section's samples.
const sectionStep = 0.5

// profile is the section; ok is false where there is none.
func (v *view) profile() (p contour.Profile, ok bool) {
	r := v.scene.Relief
	if r == nil {
		return p, false
	}
	left, right := r.Deepest[0], r.Deepest[1]
	p, ok = contour.ProfileThrough(r.depths(), r.U, contour.Point{X: left[0], Y: left[1]},
		contour.Point{X: right[0], Y: right[1]}, sectionStep)
	if !ok {
		return p, false
	}
	top, bottom := p.Range()
	return p, bottom > top
}

// tallest is the section's greatest height for the strip's width.
const tallest = 0.2

// plot is a section on the canvas.
type plot struct {
	*view
	contour.Profile
	top, bottom float64 // mm, the depths shown
	small       letters
	frame       box     // of those depths, px
	scale       float64 // px/mm along
	times       float64 // px/mm down over that
	swapped     bool    // the rider's left is to the right, as in the photo
}

// section is the section in the strip, with its words.
func (v *view) section(pad, room float64) []block {
	profile, ok := v.profile()
	if !ok {
		return nil
	}
	p := plot{view: v, Profile: profile, small: lettersOf(false, 0.85*v.em), swapped: v.swapped()}
	p.top, p.bottom = profile.Range()
	p.frame.x0, p.frame.x1 = pad+p.small.width("00")+1.1*v.em, pad+room-0.6*v.em
	p.scale = (p.frame.x1 - p.frame.x0) / p.Length()
	p.times = p.Exaggeration(p.frame.x1-p.frame.x0, tallest*room)
	above, below := 0.5*v.em, 5*v.em
	height := p.times * p.scale * (p.bottom - p.top)
	picture := block{above + height + below, func(top float64) {
		p.frame.y0 = top + above
		p.frame.y1 = p.frame.y0 + height
		p.draw()
	}}
	caption := v.scene.Words.SectionEqual
	if p.times != 1 && v.scene.Words.SectionTimes != nil {
		caption = v.scene.Words.SectionTimes(int(p.times))
	}
	return append([]block{picture}, v.paragraph(p.small, faint, pad, p.small.wrap(caption, room))...)
}

// swapped tells whether the photo shows the rider's left to the right.
func (v *view) swapped() bool {
	var x [2]float64
	for i, mm := range v.scene.Relief.Deepest {
		px := v.scene.Relief.Show([3]float64{mm[0], mm[1], 0})
		if !usable(px) {
			return false
		}
		x[i] = px[0]
	}
	return x[0] > x[1]
}

// at is where the section shows a place along it and a depth, both mm.
func (p plot) at(along, depth float64) point {
	x := p.frame.x0 + along*p.scale
	if p.swapped {
		x = p.frame.x1 - along*p.scale
	}
	return point{x, p.frame.y0 + (depth-p.top)*p.scale*p.times}
}

func (p plot) draw() {
	p.depthTicks()
	p.alongTicks()
	p.surface()
	p.within(p.clipTo(), p.curve)
	p.dimension()
}

// clipTo are the pixels of the frame, with room for the curve's own width.
func (p plot) clipTo() image.Rectangle {
	b := p.frame.grown(2 * p.hair())
	return image.Rect(int(b.x0), int(math.Floor(b.y0)), int(math.Ceil(b.x1))+1, int(math.Ceil(b.y1))+1)
}

// depthTicks are a faint line each 5 mm with its depth, and short ticks each
// mm; where there is room, each mm has its line.
func (p plot) depthTicks() {
	every := strongest
	if p.scale*p.times > 1.6*p.small.em {
		every = 1
	}
	for mm := int(math.Ceil(p.top)); mm <= int(math.Floor(p.bottom)); mm++ {
		left := point{p.frame.x0, p.at(0, float64(mm)).y}
		right := point{p.frame.x1, left.y}
		if mm%every != 0 {
			p.capsule(left, left.plus(0.35*p.em, 0), 0.5)
			p.ink(faded(faint, 0.6))
			continue
		}
		p.capsule(left, right, 0.5)
		p.ink(faded(faint, 0.35))
		text := strconv.Itoa(mm)
		p.write(p.small, left.x-p.small.width(text)-0.4*p.em, left.y+capHeight*p.small.em/2, text)
		p.ink(faint)
	}
}

// alongTicks are ticks each 10 mm from the left deepest point, every fifth
// longer and with its distance.
func (p plot) alongTicks() {
	y := p.frame.y1 + 2.6*p.em // under the line of the distance
	p.capsule(point{p.frame.x0, y}, point{p.frame.x1, y}, 0.5)
	const step = 10
	for k := int(math.Ceil(-p.A / step)); float64(k)*step <= p.Length()-p.A; k++ {
		at := point{p.at(p.A+float64(k)*step, 0).x, y}
		if k%5 != 0 {
			p.capsule(at, at.plus(0, 0.3*p.em), 0.5)
			continue
		}
		p.capsule(at, at.plus(0, 0.6*p.em), 0.5)
		text := p.scene.Words.number(float64(k)*step, 0)
		w := p.small.width(text)
		x := math.Min(at.x-w/2, p.frame.x1-w)
		p.write(p.small, x, y+0.9*p.em+capHeight*p.small.em, text)
	}
	unit := "mm"
	p.write(p.small, p.frame.x0-p.small.width(unit)-0.4*p.em, y+0.9*p.em+capHeight*p.small.em, unit)
	p.ink(faint)
}

// surface is the pad's undented surface, dashed and named.
func (p plot) surface() {
	s := p.scene.Relief.Surface
	if s == nil || *s < p.top || *s > p.bottom {
		return
	}
	y := p.at(0, *s).y
	for x := p.frame.x0; x < p.frame.x1; x += 1.2 * p.em {
		p.capsule(point{x, y}, point{math.Min(x+0.6*p.em, p.frame.x1), y}, 0.6*p.hair())
	}
	p.ink(faded(light, 0.6))
}

// curve is the surface with its band of ± 2 u.
func (p plot) curve() {
	for i, s := range p.Samples {
		if wide := p.Band(i); wide > 0 && !math.IsNaN(s.Z) {
			p.capsule(p.at(s.Along, s.Z-wide), p.at(s.Along, s.Z+wide),
				math.Max(0.5, 0.75*sectionStep*p.scale))
		}
	}
	p.ink(faded(mint, 0.38))
	var line []point
	for _, s := range p.Samples {
		if math.IsNaN(s.Z) {
			p.polyline(line, 1.3*p.hair())
			line = nil
			continue
		}
		line = append(line, p.at(s.Along, s.Z))
	}
	p.polyline(line, 1.3*p.hair())
	p.ink(mint)
}

// dimension marks both deepest points, writes their depths, and the distance
// between them on a line with arrows under the section.
func (p plot) dimension() {
	y := p.frame.y1 + 1.3*p.em
	var ends [2]point
	for i, along := range []float64{p.A, p.B} {
		bottom := p.at(along, p.DepthAt(along))
		if math.IsNaN(bottom.y) {
			return
		}
		ends[i] = point{bottom.x, y}
		p.capsule(bottom.plus(0, 0.5*p.em), ends[i].plus(0, 0.4*p.em), 0.5)
		p.cross(bottom, 0, 0.5*p.em, p.hair())
		text := p.scene.Words.number(p.DepthAt(along), 1) + "\u00a0mm"
		p.above(bottom.plus(0, -0.6*p.em), text)
	}
	if p.swapped {
		ends[0], ends[1] = ends[1], ends[0]
	}
	p.arrow(ends[0], 1)
	p.arrow(ends[1], -1)
	bold := lettersOf(true, p.em)
	w := bold.width(p.scene.Spacing)
	middle := (ends[0].x + ends[1].x) / 2
	if gap := w/2 + 0.5*p.em; p.scene.Spacing != "" && gap < (ends[1].x-ends[0].x)/2 {
		p.capsule(ends[0], point{middle - gap, y}, 0.5)
		p.capsule(point{middle + gap, y}, ends[1], 0.5)
		p.write(bold, middle-w/2, y+capHeight*bold.em/2, p.scene.Spacing)
	} else {
		p.capsule(ends[0], ends[1], 0.5)
	}
	p.ink(amber)
}

// above writes a text over a place; what it lies on gives way.
func (p plot) above(at point, text string) {
	w, h := p.small.width(text)/2+0.2*p.em, (capHeight+0.3)*p.small.em
	p.ink(amber)
	p.panel(box{at.x - w, at.y - h, at.x + w, at.y}, 0.2*p.em)
	p.ink(dark)
	p.write(p.small, at.x-p.small.width(text)/2, at.y-0.15*p.small.em, text)
}

// arrow adds an arrow's head at a line's end; inward is the direction of x in
// which the line goes on.
func (p plot) arrow(at point, inward float64) {
	for _, side := range []float64{-0.22, 0.22} {
		p.capsule(at, at.plus(inward*0.55*p.em, side*p.em), 0.5)
	}
}
