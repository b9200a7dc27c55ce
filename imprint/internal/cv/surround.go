package cv

import (
	"math"

	"sitspan/imprint/internal/normal"
)

// modules are a mark's, by row and column: true where black.
type modules [markSide][markSide]bool

// surround is a mark with the shape of its edges: what the payload and the
// mark's other sides add to the light near one edge. The halos of a sharpened
// picture reach from module to module where these are small.
type surround struct {
	black         modules
	across, along float64 // a module's width and height, px
	edgeShape
}

// surroundReach is how many modules' widths a halo may stay below and still
// reach its neighbours: the profile ends 0.23 modules from the next boundary
// at the least (fineShare), and the sides' last profiles 0.7 from the corner.
const surroundReach = 6

// Under overlapping widths of a halo to a module, halos lie on one another, and
// where black or white cut them off the surround can be taken off in part
// only. What stays is about overlapU px times the widths to a module: on drawn
// frames, amounts 1 to 2, 0.02 to 0.09 px at 0.2 to 0.7.
const overlapping, overlapU = 5, 0.1

// haloWidth is the median width in px of the halos that marks were found to
// have: one phone sharpens all alike. 0 where none has.
func haloWidth(marks map[int]sighting) float64 {
	var wide []float64
	for _, m := range marks {
		if m.step.halo > 0 {
			wide = append(wide, m.step.wide)
		}
	}
	return median(wide)
}

// overlapped adds to a mark's uncertainty what overlapping halos leave.
func (r refined) overlapped(wide float64) refined {
	if module := shortestSide(r.corners) / markSide; module < overlapping*wide {
		for i := range r.u {
			r.u[i] = math.Hypot(r.u[i], overlapU*wide/module)
		}
	}
	return r
}

// needed reports whether the surround is to be counted at all.
func (m surround) needed() bool {
	return m.halo > 0 && min(m.across, m.along) < surroundReach*m.wide
}

// shares are the parts of a row's modules in the light at one place, first as
// the blur spreads them, then as the sharpening's copy does.
type shares [2][markSide]float64

// shares of modules of the given size at x px from the mark's rim.
func (m surround) shares(x, module float64) (s shares) {
	for k, sigma := range [2]float64{m.sigma, m.wide} {
		before, _ := normal.Of(x / sigma)
		for i := range s[k] {
			after, _ := normal.Of((x - float64(i+1)*module) / sigma)
			s[k][i] = before - after
			before = after
		}
	}
	return s
}

// light is the light where a column's and a row's shares meet: 0 in a wide
// black, 1 on the paper.
func (m surround) light(column, row shares) float64 {
	var dark [2]float64
	for r := range m.black {
		for c, black := range m.black[r] {
			if black {
				dark[0] += column[0][c] * row[0][r]
				dark[1] += column[1][c] * row[1][r]
			}
		}
	}
	return 1 - (1+m.halo)*dark[0] + m.halo*dark[1]
}

// lightAt is the light of a whole mark at n px outward of one of its edges.
type lightAt func(n float64) float64

// takeSurround takes from a profile what the mark's light there has beyond
// that of the straight edge alone; levels that were cut off stay.
func (m erfStep) takeSurround(v []float64, n0, step float64, light lightAt) {
	for i := range v {
		if v[i] < clipLight && v[i] > clipDark {
			n := n0 + float64(i)*step
			straight, _ := m.level(n)
			v[i] -= m.rise * (light(n) - straight)
		}
	}
}

// takeFromSide does so on all profiles of the mark's top side.
func (m surround) takeFromSide(e edge, profiles [][]float64, known erfStep, n0, step float64) {
	i := 0
	e.places(func(s, _ float64) {
		column := m.shares(s+e.length/2, m.across)
		known.takeSurround(profiles[i], n0, step, func(n float64) float64 {
			return m.light(column, m.shares(-n, m.along))
		})
		i++
	})
}

// seenFrom is the pattern turned so that the given side of the quad is its top.
func seenFrom(black modules, side int) (t modules) {
	const last = markSide - 1
	for r := range t {
		for c := range t[r] {
			switch side {
			case 0:
				t[r][c] = black[r][c]
			case 1: // the right side, from top to bottom
				t[r][c] = black[c][last-r]
			case 2: // the bottom, from right to left
				t[r][c] = black[last-r][last-c]
			default: // the left side, from bottom to top
				t[r][c] = black[last-c][r]
			}
		}
	}
	return t
}
