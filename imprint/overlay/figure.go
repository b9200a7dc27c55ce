package overlay

import (
	"math"
	"strconv"
)

// figure draws all that lies on the photo, confined to it.
func (v *view) figure() {
	v.within(v.photo, func() {
		if v.scene.Relief == nil {
			v.grid() // under contour lines it would say nothing more
		}
		v.relief()
		v.marks()
		v.rejected()
		v.centres()
		v.labels()
	})
}

// marks outlines the marks found and numbers them.
func (v *view) marks() {
	if len(v.scene.Marks) == 0 {
		return
	}
	v.cased(sky, math.Max(0.75, 0.35*v.unit), func(half float64) {
		for _, m := range v.scene.Marks {
			for i := range m {
				v.capsule(v.at(m[i]), v.at(m[(i+1)%4]), half)
			}
		}
	})
	for i, id := range v.scene.MarkIDs {
		v.number(v.scene.Marks[i], strconv.Itoa(id))
	}
}

// centres draws both ellipses, the line between the centres, and a cross on
// each.
func (v *view) centres() {
	found := v.scene.centres()
	v.cased(amber, v.hair(), func(half float64) {
		for _, c := range found {
			for _, line := range v.ellipse(c) {
				v.polyline(line, half)
			}
			v.cross(v.at(c.Px), 0, v.arm(), half)
		}
		if len(found) == 2 {
			v.capsule(v.at(found[0].Px), v.at(found[1].Px), half)
		}
	})
}

// arm is the length in px of a cross's arm on the photo.
func (v *view) arm() float64 { return 8 * v.unit }

// cross adds an upright cross of four arms that begin at from and end at to px
// from its middle.
func (c *canvas) cross(at point, from, to, half float64) {
	for _, d := range [][2]float64{{1, 0}, {0, 1}, {-1, 0}, {0, -1}} {
		c.capsule(at.plus(from*d[0], from*d[1]), at.plus(to*d[0], to*d[1]), half)
	}
}

// rejected draws a ring with a stroke through it, the sign for "not this", on
// each place that was left out.
func (v *view) rejected() {
	if len(v.scene.Rejected) == 0 {
		return
	}
	v.cased(coral, v.hair(), func(half float64) {
		for _, r := range v.scene.shown() {
			v.notThis(v.at(r.Px), v.ringRadius(), half)
		}
	})
}

// ringRadius is the radius in px of a rejected place's ring on the photo.
func (v *view) ringRadius() float64 { return 6 * v.unit }

// notThis adds a ring with a diagonal through it.
func (c *canvas) notThis(at point, r, half float64) {
	c.ring(at, r, half)
	d := r * math.Sqrt2 / 2
	c.capsule(at.plus(-d, d), at.plus(d, -d), half)
}

// labels draws the plate with the length, a plate beside each centre, and the
// number beside each rejected place, where they hide the least.
func (v *view) labels() {
	b := newBoard(v)
	if l, r := v.scene.Left, v.scene.Right; l != nil && r != nil && v.scene.Spacing != "" {
		b.onLine(v.at(l.Px), v.at(r.Px), v.scene.Spacing)
	}
	for _, c := range v.scene.centres() {
		b.beside(v.at(c.Px), b.keep(c), label{c.Label, b.small, light})
	}
	b.contourLabels()
	for i, r := range v.scene.shown() {
		b.beside(v.at(r.Px), v.ringRadius()+v.unit, label{strconv.Itoa(i + 1), b.small, coral})
	}
}
