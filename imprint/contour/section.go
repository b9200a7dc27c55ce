package contour

import "math"

// Sample is a place of a section.
type Sample struct {
	Point
	Along float64 // mm from the section's beginning
	Z     float64 // mm; NaN outside the grid and beside a hole
}

// Section samples the grid on the straight line between two places, at steps of
// at most a distance in mm. Both ends are among the samples.
func (g Grid) Section(from, to Point, step float64) []Sample {
	length := math.Hypot(to.X-from.X, to.Y-from.Y)
	if g.Check() != nil || !finite(length) || !(step > 0) || length/step > most {
		return nil
	}
	n := max(1, int(math.Ceil(length/step)))
	samples := make([]Sample, n+1)
	for k := range samples {
		t := float64(k) / float64(n)
		p := Point{from.X + t*(to.X-from.X), from.Y + t*(to.Y-from.Y)}
		samples[k] = Sample{p, t * length, g.At(p)}
	}
	return samples
}

// Through is the longest straight line inside the grid that passes through two
// places, from the first one's side to the second's; ok is false where they are
// one, or one is outside.
func (g Grid) Through(a, b Point) (from, to Point, ok bool) {
	length := math.Hypot(b.X-a.X, b.Y-a.Y)
	if g.Check() != nil || !(length > 0) || math.IsInf(length, 1) || !g.holds(a) || !g.holds(b) {
		return from, to, false
	}
	ux, uy := (b.X-a.X)/length, (b.Y-a.Y)/length
	back, ahead := g.reach(a, -ux, -uy), g.reach(b, ux, uy)
	return Point{a.X - back*ux, a.Y - back*uy}, Point{b.X + ahead*ux, b.Y + ahead*uy}, true
}

// holds tells whether a place is on the grid.
func (g Grid) holds(p Point) bool {
	return math.Abs(p.X) <= g.X(g.Columns-1) && math.Abs(p.Y) <= g.Y(g.Rows-1)
}

// reach is how far in mm the grid goes from a place in a direction.
func (g Grid) reach(p Point, ux, uy float64) float64 {
	room := math.Inf(1)
	for _, axis := range [][3]float64{{p.X, ux, g.X(g.Columns - 1)}, {p.Y, uy, g.Y(g.Rows - 1)}} {
		at, u, half := axis[0], axis[1], axis[2]
		if u != 0 {
			room = math.Min(room, (math.Copysign(half, u)-at)/u)
		}
	}
	return math.Max(0, room)
}
