package overlay

import (
	"image/color"
)

// keyItem explains one sign of the drawing; sign draws it about a point.
type keyItem struct {
	text string
	ink  color.NRGBA
	sign func(at point, r, half float64)
}

// keyItems are the signs that this scene uses.
func (v *view) keyItems() (items []keyItem) {
	s := v.scene
	if len(s.centres()) > 0 {
		items = append(items, keyItem{s.Words.Deepest, amber, func(at point, r,
			half float64) {
			v.cross(at, 0, r, half)
		}})
		if v.anyEllipse() {
			items = append(items, keyItem{s.Words.Region, amber, func(at point, r,
				half float64) {
				v.ring(at, 0.75*r, half)
			}})
		}
	}
	if len(s.Marks) > 0 {
		items = append(items, keyItem{s.Words.Marks, sky, v.square})
	}
	if s.Relief != nil {
		items = append(items, keyItem{s.Words.Contours, mint, v.rings})
	} else if s.Plane != nil && s.Window[0] > 0 && s.Window[1] > 0 {
		items = append(items, keyItem{s.Words.Grid, faint, v.hash})
	}
	if len(s.Rejected) > 0 {
		items = append(items, keyItem{s.Words.LeftOut, coral, func(at point, r,
			half float64) {
			v.notThis(at, 0.85*r, half)
		}})
	}
	return items
}

func (v *view) anyEllipse() bool {
	for _, c := range v.scene.centres() {
		if v.scene.Plane != nil && c.Semi != [2]float64{} {
			return true
		}
	}
	return false
}

// square adds a square's outline.
func (v *view) square(at point, r, half float64) {
	r *= 0.75
	v.polyline([]point{at.plus(-r, -r), at.plus(r, -r), at.plus(r, r), at.plus(-r, r), at.plus(-r, -r)}, half)
}

// hash adds four crossing lines.
func (v *view) hash(at point, r, half float64) {
	for _, d := range []float64{-0.4 * r, 0.4 * r} {
		v.capsule(at.plus(d, -r), at.plus(d, r), half)
		v.capsule(at.plus(-r, d), at.plus(r, d), half)
	}
}

// key lays the explanations out in rows.
func (v *view) key(l letters, pad, room float64) (blocks []block) {
	type placed struct {
		keyItem
		x float64
	}
	var rows [][]placed
	x := 0.0
	for _, item := range v.keyItems() {
		width := l.width(item.text) + 1.6*l.em
		if len(rows) == 0 || x+width > room {
			rows, x = append(rows, nil), 0
		}
		last := len(rows) - 1
		rows[last] = append(rows[last], placed{item, pad + x})
		x += width + 1.3*l.em
	}
	for _, row := range rows {
		blocks = append(blocks, block{1.2 * l.line(), func(top float64) {
			middle := top + 0.6*l.line()
			for _, p := range row {
				p.sign(point{p.x + 0.5*l.em, middle}, 0.55*l.em, max(0.5, 0.055*l.em))
				v.ink(p.ink)
				v.write(l, p.x+1.4*l.em, middle+capHeight*l.em/2, p.text)
				v.ink(faint)
			}
		}})
	}
	return blocks
}
