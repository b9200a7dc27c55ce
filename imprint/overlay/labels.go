package overlay

import (
	"image/color"
	"math"
)

// dentRadius is the radius in mm about a centre that labels keep off: a dent's
// core (an assumption; the trade calls them 30 to 50 mm across, no source).
const dentRadius = 20

// label is a line of words on a dark plate.
type label struct {
	text    string
	letters letters
	ink     color.NRGBA
}

// board finds room for labels on the photo. What it must not hide are the
// dents; what it had better not hide are lines, marks and other labels.
type board struct {
	*view
	large, small, tiny letters
	room               box // the photo less a margin
	taken              []obstacle
	plates             []box // of the labels put so far
}

// obstacle is a box with what it costs to hide one px^2 of it.
type obstacle struct {
	box
	cost float64
}

// newBoard notes what is on the photo already.
func newBoard(v *view) *board {
	b := &board{view: v, large: lettersOf(true, 1.15*v.em), small: lettersOf(false, 0.85*v.em),
		tiny: lettersOf(false, 0.62*v.em)}
	b.room = boxOf(v.photo).grown(-2 * v.unit)
	for _, c := range v.scene.centres() {
		b.noteDisc(v.at(c.Px), b.keep(c), 20)
	}
	for _, r := range v.scene.shown() {
		b.noteDisc(v.at(r.Px), v.ringRadius(), 10)
	}
	for _, m := range v.scene.Marks {
		b.taken = append(b.taken, obstacle{v.bounds(m), 1})
	}
	if found := v.scene.centres(); len(found) == 2 {
		b.noteLine(v.at(found[0].Px), v.at(found[1].Px))
	}
	return b
}

// keep is the radius in px about a centre that labels keep off.
func (b *board) keep(c *Centre) float64 {
	if s := b.pxPerMM(c.PlaneMM); s > 0 {
		return math.Min(dentRadius*s, 60*b.unit)
	}
	return 20 * b.unit
}

// noteDisc notes a round obstacle, as a cross of two boxes.
func (b *board) noteDisc(at point, r, cost float64) {
	k := 0.6 * r
	b.taken = append(b.taken,
		obstacle{box{at.x - r, at.y - k, at.x + r, at.y + k}, cost},
		obstacle{box{at.x - k, at.y - r, at.x + k, at.y + r}, cost})
}

// noteLine notes the line between the centres, as a row of boxes.
func (b *board) noteLine(from, to point) {
	const n = 48
	w := 1.5 * b.unit
	for i := range n {
		t := (float64(i) + 0.5) / n
		p := from.plus(t*(to.x-from.x), t*(to.y-from.y))
		b.taken = append(b.taken, obstacle{box{p.x, p.y, p.x, p.y}.grown(w), 10})
	}
}

// bounds is the upright box round a mark.
func (v *view) bounds(m [4][2]float64) box {
	p := v.at(m[0])
	b := box{p.x, p.y, p.x, p.y}
	for _, corner := range m[1:] {
		q := v.at(corner)
		b = box{math.Min(b.x0, q.x), math.Min(b.y0, q.y), math.Max(b.x1, q.x), math.Max(b.y1, q.y)}
	}
	return b
}

// size is a label's plate in px.
func (l label) size() (w, h float64) {
	return l.letters.width(l.text) + l.letters.em, 1.5 * l.letters.em
}

// onLine places the length near the line's middle, to either side of it.
func (b *board) onLine(from, to point, text string) {
	length := from.distance(to)
	if length == 0 {
		return
	}
	nx, ny := (to.y-from.y)/length, (from.x-to.x)/length
	var anchors []point
	for _, t := range []float64{0.5, 0.4, 0.6, 0.3, 0.7} {
		anchors = append(anchors, from.plus(t*(to.x-from.x), t*(to.y-from.y)))
	}
	b.put(label{text, b.large, amber}, anchors, 3*b.unit, [][2]float64{{nx, ny}, {-nx, -ny}})
}

// beside places a label round a point, gap px off it: rather below or above it
// than to its sides, where the line is.
func (b *board) beside(at point, gap float64, l label) {
	if !b.holds(at) {
		return
	}
	var directions [][2]float64
	for _, degrees := range []float64{90, -90, 60, 120, -60, -120, 30, 150, -30, -150, 0, 180} {
		y, x := math.Sincos(degrees * math.Pi / 180)
		directions = append(directions, [2]float64{x, y})
	}
	b.put(l, []point{at}, gap, directions)
}

// holds tells whether a point is on the photo.
func (b *board) holds(p point) bool {
	o := boxOf(b.photo)
	return p.x >= o.x0 && p.x <= o.x1 && p.y >= o.y0 && p.y <= o.y1
}

// put draws a label where it costs least of all places around the anchors; it
// is left out where the photo has no room for it.
func (b *board) put(l label, anchors []point, gap float64, directions [][2]float64) {
	l.text = l.letters.shortened(l.text, 0.6*(b.room.x1-b.room.x0))
	w, h := l.size()
	if l.text == "" || w > b.room.x1-b.room.x0 || h > b.room.y1-b.room.y0 {
		return
	}
	best, least := box{}, math.Inf(1)
	for i, a := range anchors {
		for j, d := range directions {
			for _, far := range []float64{0, 1, 2, 4, 8} {
				reach := gap + far*5*b.unit + math.Abs(d[0])*w/2 + math.Abs(d[1])*h/2
				c := b.moved(box{a.x - w/2, a.y - h/2, a.x + w/2, a.y + h/2}, reach*d[0], reach*d[1])
				cost := b.cost(c) + b.unit*b.unit*(40*far+10*float64(i)+float64(j))
				if cost < least {
					best, least = c, cost
				}
			}
		}
	}
	b.taken, b.plates = append(b.taken, obstacle{best, 10}), append(b.plates, best)
	b.plate(best, l)
}

// moved shifts a box, and back inside the photo where it sticks out.
func (b *board) moved(c box, dx, dy float64) box {
	dx += math.Max(0, b.room.x0-c.x0-dx) - math.Max(0, c.x1+dx-b.room.x1)
	dy += math.Max(0, b.room.y0-c.y0-dy) - math.Max(0, c.y1+dy-b.room.y1)
	return box{c.x0 + dx, c.y0 + dy, c.x1 + dx, c.y1 + dy}
}

// cost is what a box would hide.
func (b *board) cost(c box) (sum float64) {
	for _, o := range b.taken {
		sum += o.cost * c.overlap(o.box)
	}
	return sum
}

// plate draws a label in its box.
func (v *view) plate(at box, l label) {
	v.panel(at, 0.35*l.letters.em)
	v.ink(faded(dark, 0.82))
	v.write(l.letters, at.x0+l.letters.em/2, at.centre().y+capHeight*l.letters.em/2, l.text)
	v.ink(l.ink)
}

// number writes a mark's number into it, where it has room.
func (v *view) number(m [4][2]float64, text string) {
	at := v.bounds(m)
	l := label{text, lettersOf(true, 0.62*v.em), sky}
	w, h := l.letters.width(text)+0.5*l.letters.em, 1.2*l.letters.em
	if w > 0.8*(at.x1-at.x0) || h > 0.8*(at.y1-at.y0) {
		return
	}
	c := at.centre()
	v.panel(box{c.x - w/2, c.y - h/2, c.x + w/2, c.y + h/2}, 0.3*l.letters.em)
	v.ink(dark)
	v.write(l.letters, c.x-l.letters.width(text)/2, c.y+capHeight*l.letters.em/2, text)
	v.ink(l.ink)
}
