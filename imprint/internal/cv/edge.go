package cv

import (
	"math"
	"slices"
)

const (
	// edgeSamples is the number of places along a side at which its edge is
	// located; the outer tenth at either end is left out, where the corner's
	// own blur rounds the edge.
	edgeSamples = 20
	edgeSkip    = 0.1
	// mostLanes is how many lines a profile is the mean of at the most.
	mostLanes = 8
	// minEdgeShare is the share of those places that must agree on the line.
	minEdgeShare = 0.5
)

// edge is one side of a mark in its own axes: s runs along the side from its
// middle, n outward, both in px.
type edge struct {
	middle         Pixel
	alongX, alongY float64
	length         float64
}

// newEdge takes two neighbouring corners of a clockwise quad.
func newEdge(a, b Pixel) edge {
	l := a.Distance(b)
	return edge{Pixel{X: (a.X + b.X) / 2, Y: (a.Y + b.Y) / 2}, (b.X - a.X) / l, (b.Y - a.Y) / l, l}
}

// at is the pixel at s along and n outward: outward lies to the left of the
// way round a clockwise quad (y down).
func (e edge) at(s, n float64) Pixel {
	return Pixel{X: e.middle.X + s*e.alongX + n*e.alongY, Y: e.middle.Y + s*e.alongY - n*e.alongX}
}

// edgePoint is where the edge was found on one profile.
type edgePoint struct {
	s, n float64 // px
	step float64 // from black to white, grey levels
}

// profile samples grey levels across the edge at s, from n-half to n+half in
// steps of one px or less, each the mean over width px along the edge.
func (e edge) profile(p plane8, s, n, half, width float64, into []float64) (step float64) {
	step = 2 * half / float64(len(into)-1)
	lanes := min(mostLanes, max(1, int(width)))
	var on [mostLanes]Pixel // where the lanes cross the side
	for k := range lanes {
		on[k] = e.at(s+width*((float64(k)+0.5)/float64(lanes)-0.5), 0)
	}
	for i := range into {
		sum, off := 0.0, n-half+float64(i)*step
		x, y := off*e.alongY, off*e.alongX
		for _, q := range on[:lanes] {
			sum += p.at(q.X+x, q.Y-y)
		}
		into[i] = sum / float64(lanes)
	}
	return step
}

// profileLength is the number of samples for a half-width in px.
func profileLength(half float64) int { return 2*int(math.Ceil(half)) + 1 }

// places calls f for the positions s of the profiles and the width of each.
func (e edge) places(f func(s, width float64)) {
	span := e.length * (1 - 2*edgeSkip)
	for i := range edgeSamples {
		f(span*((float64(i)+0.5)/edgeSamples-0.5), span/edgeSamples)
	}
}

// steepest returns where the profile rises most, in samples from its start
// (a parabola through the peak), and the rise there per sample.
func steepest(v []float64) (at, rise float64) {
	best := -1
	for i := 1; i+1 < len(v); i++ {
		if d := (v[i+1] - v[i-1]) / 2; d > rise {
			best, rise = i, d
		}
	}
	if best < 2 || best+2 >= len(v) {
		return float64(best), rise
	}
	slope := func(i int) float64 { return (v[i+1] - v[i-1]) / 2 }
	a, b, c := slope(best-1), slope(best), slope(best+1)
	if den := a - 2*b + c; den < 0 {
		return float64(best) + 0.5*(a-c)/den, rise
	}
	return float64(best), rise
}

// coarse finds the edge on each profile as the steepest rise within half px
// of the assumed side.
func (e edge) coarse(p plane8, half float64) []edgePoint {
	v := make([]float64, profileLength(half))
	var found []edgePoint
	e.places(func(s, width float64) {
		step := e.profile(p, s, 0, half, width, v)
		if at, rise := steepest(v); at > 0 && rise > 0 {
			found = append(found, edgePoint{s: s, n: -half + at*step, step: slices.Max(v) - slices.Min(v)})
		}
	})
	return found
}

// erfStep is the model of a blurred straight edge: black + rise * level(n -
// at), the level being Phi(n / sigma), Phi the normal distribution function,
// unless the picture was sharpened.
type erfStep struct {
	black, rise, at float64
	edgeShape
}

// holdLevels is the weight, in samples, with which an edge with a halo keeps to
// the levels that it starts from: where the halo was cut off at black and
// white alike, hardly a sample is left that tells them.
const holdLevels = 0.02

// fit adjusts the model to the profile by Gauss-Newton from the given start;
// the shape stays as it is unless free, for an edge without a halo. n0 and step place the samples in px.
// ok is false when it does not settle inside the profile.
func (m *erfStep) fit(v []float64, n0, step float64, free bool) (ok bool) {
	params := 3
	if free {
		params = 4
	}
	half := step * float64(len(v)-1) / 2
	first := *m
	for range 12 {
		var normal [4][5]float64
		if m.halo > 0 {
			normal[0][0], normal[0][4] = holdLevels, holdLevels*(first.black-m.black)
			normal[1][1], normal[1][4] = holdLevels, holdLevels*(first.rise-m.rise)
		}
		for i, y := range v {
			n := n0 + float64(i)*step - m.at
			level, slope := m.level(n)
			model := m.black + m.rise*level
			if m.cutOff(y, model) {
				continue
			}
			r, move := y-model, -m.rise*slope
			normal[0][0]++
			normal[0][1] += level
			normal[0][2] += move
			normal[0][4] += r
			normal[1][1] += level * level
			normal[1][2] += level * move
			normal[1][4] += level * r
			normal[2][2] += move * move
			normal[2][4] += move * r
			if free {
				widen := move * n / m.sigma
				normal[0][3] += widen
				normal[1][3] += level * widen
				normal[2][3] += move * widen
				normal[3][3] += widen * widen
				normal[3][4] += widen * r
			}
		}
		for a := range params {
			for b := range a {
				normal[a][b] = normal[b][a]
			}
		}
		d, solved := solveSmall(normal, params)
		if !solved {
			return false
		}
		m.black, m.rise, m.at = m.black+d[0], m.rise+d[1], m.at+d[2]
		if free {
			m.sigma = min(max(m.sigma+d[3], 0.5*m.sigma), 2*m.sigma)
		}
		if math.Abs(m.at-n0-half) > half || m.rise <= 0 || m.sigma < 0.05 {
			return false
		}
		if math.Abs(d[2]) < 1e-3 && (!free || math.Abs(d[3]) < 1e-3) {
			break
		}
	}
	return true
}

// solveSmall solves the normal equations of n unknowns, the right side in the
// last column, by elimination with pivoting.
func solveSmall(a [4][5]float64, n int) (x [4]float64, ok bool) {
	for c := range n {
		pivot := c
		for r := c + 1; r < n; r++ {
			if math.Abs(a[r][c]) > math.Abs(a[pivot][c]) {
				pivot = r
			}
		}
		a[c], a[pivot] = a[pivot], a[c]
		if math.Abs(a[c][c]) < 1e-12 {
			return x, false
		}
		for r := range n {
			if r == c {
				continue
			}
			k := a[r][c] / a[c][c]
			for j := c; j < 5; j++ {
				a[r][j] -= k * a[c][j]
			}
		}
	}
	for i := range n {
		x[i] = a[i][4] / a[i][i]
	}
	return x, true
}

// fine fits the model on each profile, with the shape known, and returns the
// edge points in px.
func (e edge) fine(profiles [][]float64, half, step float64, known erfStep) []edgePoint {
	var found []edgePoint
	i := 0
	e.places(func(s, _ float64) {
		v := profiles[i]
		i++
		m := known.startOn(v, 0)
		if m.fit(v, -half, step, false) {
			found = append(found, edgePoint{s, m.at, m.rise})
		}
	})
	return found
}

// startOn is where a fit to a profile begins: from the profile's own levels,
// or, since a halo goes beyond them, from those known.
func (m erfStep) startOn(v []float64, at float64) erfStep {
	m.at = at
	if m.halo == 0 {
		m.black = slices.Min(v)
		m.rise = slices.Max(v) - m.black
	}
	return m
}

// profiles samples the edge at all its places, within half px of it.
func (e edge) profiles(p plane8, half float64) (all [][]float64, step float64) {
	e.places(func(s, width float64) {
		v := make([]float64, profileLength(half))
		step = e.profile(p, s, 0, half, width, v)
		all = append(all, v)
	})
	return all, step
}

// meanProfile is the mean over the places. Where the lamp or the paper varies
// along the edge it still has the edge's own width.
func meanProfile(profiles [][]float64) []float64 {
	mean := make([]float64, len(profiles[0]))
	for _, v := range profiles {
		for i := range v {
			mean[i] += v[i] / edgeSamples
		}
	}
	return mean
}

// plainShape fits the model without a halo to each side's mean profile and
// returns the median of their sigmas in px, the sum of squared misfits, and
// that of the squared steps for each sample. ok is false where fewer than two
// sides settle.
func plainShape(profiles [][]float64, half, step, start float64) (
	s edgeShape, squares, steps float64, ok bool,
) {
	var widths []float64
	for _, v := range profiles {
		lo, hi := slices.Min(v), slices.Max(v)
		m := erfStep{lo, hi - lo, 0, edgeShape{sigma: start}}
		steps += (hi - lo) * (hi - lo) * float64(len(v))
		if !m.fit(v, -half, step, true) {
			squares = math.Inf(1)
			continue
		}
		widths = append(widths, m.sigma)
		for i, y := range v {
			level, _ := m.level(-half + float64(i)*step - m.at)
			squares += (y - m.black - m.rise*level) * (y - m.black - m.rise*level)
		}
	}
	return edgeShape{sigma: median(widths)}, squares, steps, len(widths) >= 2
}
