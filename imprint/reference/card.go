package reference

import (
	"errors"
	"image"
	"math"
	"slices"

	"sitspan/imprint/homography"
	"sitspan/imprint/internal/cores"
)

// A card of ISO/IEC 7810 ID-1 size, mm: 85.60 x 53.98, 0.76 +- 0.08 thick, corners rounded by 2.88 to 3.48.
// Its outline lies between 85.47 x 53.92 and 85.72 x 54.03 (clause 5, from memory: public copies have the
// nominal size only, the standard or a caliper on some cards would settle it); rectangular.
const (
	CardWidth, CardHeight = 85.60, 53.98
	CardThickness         = 0.76
	cardRadius            = 3.18
	cardWidthU            = 0.125 / 1.7320508
	cardHeightU           = 0.055 / 1.7320508
	cardThicknessU        = 0.08 / 1.7320508
)

// ErrNoCard says that no card of ID-1 size was found.
var ErrNoCard = errors.New("no card of ID-1 size was found")

// Card is a card of ID-1 size and the plane that it lies on.
type Card struct {
	Pose
	// Outline holds the card's corners in px, clockwise, the roundings filled up: what to paint over to hide its
	// face.
	Outline [4]homography.Pixel
}

// The card's own parameters.
const (
	cardW, cardH = firstOwn, firstOwn + 1
	edgeOffset   = firstOwn + 2 // of the four edges as seen, outward, mm
	edgeTurn     = firstOwn + 6 // how much farther outward they are seen at the end than in the middle, mm
	cardCount    = firstOwn + 10
)

func findCard(img *image.Gray, f *field, focal homography.Focal) (*Card, error) {
	var best *Card
	most := 0.0
	var found []rectangle
	all := f.rectangles()
	cards, scores := make([]*Card, len(all)), make([]float64, len(all))
	cores.Each(len(all), func(i int) { cards[i], scores[i] = measureCard(img, all[i], focal) })
	for i, q := range all {
		near := perimeter(q.corner) / 200 // 1.4 mm
		if most > surelyACard {
			near *= 3
		}
		if slices.ContainsFunc(found, func(k rectangle) bool { return k.like(q, near) }) {
			continue // the same once more
		}
		c, score := cards[i], scores[i]
		if c == nil {
			continue
		}
		found = append(found, rectangle{corner: c.corner(0)})
		if score > most {
			best, most = c, score
		}
	}
	if best == nil {
		return nil, ErrNoCard
	}
	return best, nil
}

const (
	leastRatio, mostRatio = 1.38, 1.82 // of the card's sides as seen: 1.586 tilted by up to 27 degrees
	mostOff               = 1.25       // a side over the one that faces it
	leastSide             = 45.        // px, reduced, of the shorter side
	sideSeen              = 0.45       // share of a side that must be seen
	mostRectangles        = 24
	surelyACard           = 6.5 // score of measureCard from which variants of the same lines are not tried
)

type rectangle struct {
	corner [4]homography.Pixel // of the picture, clockwise, the first side being long
	score  float64
}

// rectangles are the best seen four-sided figures of about a card's shape.
func (f *field) rectangles() []rectangle {
	at, level := f.crossings(), f.level()
	by := make([][]rectangle, len(f.lines)) // their first line
	cores.EachWith(len(f.lines), func() func(int) {
		var across []crosser // kept from one line to the next, for its memory
		return func(i int) { by[i], across = f.rectanglesOn(i, at, level, across) }
	})
	out := slices.Concat(by...)
	slices.SortStableFunc(out, func(p, q rectangle) int {
		switch {
		case p.score > q.score:
			return -1
		case p.score < q.score:
			return 1
		}
		return 0
	})
	var kept []rectangle
	for _, r := range out {
		if len(kept) == mostRectangles {
			break
		}
		if !slices.ContainsFunc(kept, func(k rectangle) bool { return k.like(r, 3*f.scale) }) {
			kept = append(kept, r)
		}
	}
	return kept
}

// rectanglesOn are those with line i for a long side and a later line for the other.
func (f *field) rectanglesOn(i int, at [][]place, level [][]bool, across []crosser) ([]rectangle, []crosser) {
	var out []rectangle
	a := &f.lines[i]
	for j := i + 1; j < len(f.lines); j++ {
		b := &f.lines[j]
		if !level[i][j] {
			continue
		}
		across = across[:0] // lines that cross both in the picture
		for k := range f.lines {
			if at[i][k].inside && at[j][k].inside && angleApart(a.angle, f.lines[k].angle) >= math.Pi/2-0.25 {
				from, to := at[i][k], at[j][k]
				long := math.Hypot(to.x-from.x, to.y-from.y)
				across = append(across, crosser{k, a.along(from.x, from.y), long})
			}
		}
		for n, c := range across {
			for _, d := range across[n+1:] {
				k, m := c.line, d.line
				if !c.mayFace(d) || !level[k][m] {
					continue
				}
				corners := [4]place{at[i][k], at[i][m], at[j][m], at[j][k]}
				if r, ok := f.rectangle([4]*line{a, &f.lines[m], b, &f.lines[k]}, corners); ok {
					out = append(out, r)
				}
			}
		}
	}
	return out, across
}

// crosser is a line that crosses two others: where along the first, and how long between them, px.
type crosser struct {
	line         int
	along, short float64
}

// mayFace tells whether two such lines may be a card's short sides: what rectangle asks of the sides'
// lengths, with a thousandth to spare.
func (c crosser) mayFace(d crosser) bool {
	const spare = 1.001
	sides, long := c.short+d.short, 2*math.Abs(c.along-d.along)
	return sides >= 2*leastSide/spare && c.short <= spare*mostOff*d.short && d.short <= spare*mostOff*c.short &&
		long*(1+mostOff)/2 >= leastRatio*sides/spare && long*(1+1/mostOff)/2 <= mostRatio*sides*spare
}

// like tells whether all corners are within px of another's.
func (r rectangle) like(o rectangle, px float64) bool {
	for _, c := range r.corner {
		if !slices.ContainsFunc(o.corner[:], func(k homography.Pixel) bool { return k.Distance(c) < px }) {
			return false
		}
	}
	return true
}

// place is where two lines cross, and whether that is well inside the reduced picture.
type place struct {
	x, y   float64
	inside bool
}

// level tells which lines run nearly along which.
func (f *field) level() [][]bool {
	all := make([][]bool, len(f.lines))
	for i := range all {
		all[i] = make([]bool, len(f.lines))
		for k := range all[i] {
			all[i][k] = angleApart(f.lines[i].angle, f.lines[k].angle) <= 0.2
		}
	}
	return all
}

// crossings are those of each line with each other.
func (f *field) crossings() [][]place {
	all := make([][]place, len(f.lines))
	for i := range all {
		all[i] = make([]place, len(f.lines))
	}
	for i := range f.lines {
		for k := range i {
			x, y, ok := crossing(&f.lines[k], &f.lines[i])
			p := place{x, y, ok && x >= 2 && y >= 2 && x <= float64(f.w)-3 && y <= float64(f.h)-3}
			all[i][k], all[k][i] = p, p
		}
	}
	return all
}

// rectangle joins four lines, round the figure with a long side first; corner i is between the lines i-1
// and i.
func (f *field) rectangle(lines [4]*line, corners [4]place) (r rectangle, ok bool) {
	var x, y, side [4]float64
	for i, c := range corners {
		next := &corners[(i+1)%4]
		x[i], y[i], side[i] = c.x, c.y, math.Sqrt((next.x-c.x)*(next.x-c.x)+(next.y-c.y)*(next.y-c.y))
	}
	long, short := (side[0]+side[2])/2, (side[1]+side[3])/2
	if ratio := long / short; ratio < leastRatio || ratio > mostRatio || short < leastSide {
		return r, false
	}
	if s := side[0] / side[2]; s < 1/mostOff || s > mostOff {
		return r, false
	}
	if s := side[1] / side[3]; s < 1/mostOff || s > mostOff {
		return r, false
	}
	least := 1.0
	for i := range 4 {
		l := lines[i]
		t0, t1 := l.along(x[i], y[i]), l.along(x[(i+1)%4], y[(i+1)%4])
		in := 0.07 * (t1 - t0)
		s := l.seen(t0+in, t1-in)
		if s < sideSeen {
			return r, false
		}
		least = math.Min(least, s)
		r.score += s
	}
	r.score += 2 * least
	area := 0.0
	for i := range 4 {
		k := (i + 1) % 4
		area += x[i]*y[k] - x[k]*y[i]
		r.corner[i] = f.full(x[i], y[i])
	}
	if area < 0 { // make it clockwise (y down), the first side still long
		r.corner[0], r.corner[1], r.corner[2], r.corner[3] = r.corner[1], r.corner[0], r.corner[3], r.corner[2]
	}
	return r, true
}

func crossing(a, b *line) (x, y float64, ok bool) {
	det := a.cos*b.sin - a.sin*b.cos
	if math.Abs(det) < 0.3 {
		return 0, 0, false
	}
	return (a.rho*b.sin - b.rho*a.sin) / det, (a.cos*b.rho - b.cos*a.rho) / det, true
}
