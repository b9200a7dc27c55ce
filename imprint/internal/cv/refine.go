package cv

import (
	"math"
	"slices"
)

// line is an edge's position n = c0 + c1 s in the edge's axes, px, with the
// covariance of its two parameters.
type line struct {
	c0, c1        float64
	v00, v01, v11 float64
	scatter       float64 // robust standard deviation of the points, px
	used          int
	contrast      float64 // median step over the points, grey levels
}

func (l line) at(s float64) float64 { return l.c0 + l.c1*s }

// variance of the line's position at s, px^2.
func (l line) variance(s float64) float64 { return l.v00 + 2*s*l.v01 + s*s*l.v11 }

// fitLine fits a line robustly: Tukey's biweight (c = 4.685, 95 % efficient at
// the normal, recomputed by integration: 0.9500; Holland & Welsch 1977) on a scale from the median
// absolute deviation, started from the median of pairwise slopes (Theil-Sen).
// floor is the least scale in px. ok is false when too few points agree.
func fitLine(points []edgePoint, floor float64) (l line, ok bool) {
	if len(points) < 6 {
		return l, false
	}
	l = startLine(points)
	weights, misfit := make([]float64, len(points)), make([]float64, len(points))
	for range 8 {
		for i, q := range points {
			misfit[i] = math.Abs(q.n - l.at(q.s))
		}
		l.scatter = max(floor, 1.4826*median(slices.Clone(misfit)))
		biweights(misfit, l.scatter, weights)
		if !l.solve(points, weights) {
			return l, false
		}
	}
	l.judge(points, weights)
	return l, float64(l.used) >= minEdgeShare*edgeSamples
}

// biweightVariance: the biweight shrinks the residuals of good points too, so
// that at the normal the weighted variance is 0.828 of the true one (numerical
// integration of w z^2 over w).
const biweightVariance = 0.828

// biweights fills w with Tukey's weights of the misfits on the given scale.
func biweights(misfit []float64, scale float64, w []float64) {
	for i, r := range misfit {
		z := r / (4.685 * scale)
		w[i] = 0
		if z*z < 1 {
			w[i] = (1 - z*z) * (1 - z*z)
		}
	}
}

// startLine is the Theil-Sen line through the points.
func startLine(points []edgePoint) line {
	var slopes []float64
	for i, a := range points {
		for _, b := range points[i+1:] {
			slopes = append(slopes, (b.n-a.n)/(b.s-a.s))
		}
	}
	c1 := median(slopes)
	return line{c0: medianOf(points, func(q edgePoint) float64 { return q.n - c1*q.s }), c1: c1}
}

// solve is one weighted least-squares step; the inverse of the normal matrix
// is kept, unscaled.
func (l *line) solve(points []edgePoint, w []float64) bool {
	var sw, ss, sss, sn, ssn float64
	for i, q := range points {
		sw, ss, sss = sw+w[i], ss+w[i]*q.s, sss+w[i]*q.s*q.s
		sn, ssn = sn+w[i]*q.n, ssn+w[i]*q.s*q.n
	}
	det := sw*sss - ss*ss
	if sw < 3 || det < 1e-6*sw*sss {
		return false
	}
	l.c0, l.c1 = (sss*sn-ss*ssn)/det, (sw*ssn-ss*sn)/det
	l.v00, l.v01, l.v11 = sss/det, -ss/det, sw/det
	return true
}

// judge turns the weights into a count, a scatter and a covariance: the
// weighted residual variance with two parameters taken off.
func (l *line) judge(points []edgePoint, w []float64) {
	var sum, sw float64
	var kept []edgePoint
	for i, q := range points {
		r := q.n - l.at(q.s)
		sum, sw = sum+w[i]*r*r, sw+w[i]
		if w[i] > 0.1 {
			kept = append(kept, q)
		}
	}
	l.used = len(kept)
	if l.used == 0 || sw <= 2 {
		l.used = 0
		return
	}
	s2 := sum / (sw - 2) / biweightVariance
	l.scatter = math.Sqrt(s2)
	l.v00, l.v01, l.v11 = l.v00*s2, l.v01*s2, l.v11*s2
	l.contrast = medianOf(kept, func(q edgePoint) float64 { return q.step })
}

func medianOf(points []edgePoint, f func(edgePoint) float64) float64 {
	v := make([]float64, len(points))
	for i, q := range points {
		v[i] = f(q)
	}
	return median(v)
}

// median partly sorts v in place.
func median(v []float64) float64 {
	if len(v) == 0 {
		return 0
	}
	half := len(v) / 2
	upper := nth(v, half)
	if len(v)%2 == 1 {
		return (upper + upper) / 2
	}
	return (slices.Max(v[:half]) + upper) / 2
}

// nth is the number that would be the k-th if v were sorted, from 0 on; it partly sorts v, so that none
// before it is larger: Hoare's search.
func nth(v []float64, k int) float64 {
	low, high := 0, len(v)-1
	for high-low > 12 {
		a, b, c := v[low], v[(low+high)/2], v[high]
		pivot := max(min(a, b), min(max(a, b), c))
		i, j := low, high
		for i <= j {
			for v[i] < pivot {
				i++
			}
			for v[j] > pivot {
				j--
			}
			if i <= j {
				v[i], v[j] = v[j], v[i]
				i, j = i+1, j-1
			}
		}
		switch {
		case k <= j:
			high = j
		case k >= i:
			low = i
		default:
			return v[k]
		}
	}
	slices.Sort(v[low : high+1])
	return v[k]
}

// refined is a quad measured on its edges.
type refined struct {
	corners  [4]Pixel
	u        [4]float64 // px
	contrast float64    // grey levels
	blur     float64    // px
	step     erfStep    // levels and shape that its edges share
}

const (
	// interpolationVariance is what bilinear interpolation adds to the width of
	// an edge, px^2: the mean of f(1-f) over the phase f.
	interpolationVariance = 1.0 / 6
	// fineShare is the greatest half-width of the fine profiles as a share of
	// the side: less than the border's own module (1/7) so that the payload
	// stays out, and 2.2 mm on the printed mark, where the paper's margin is 3.
	fineShare = 0.11
	// coarseShare likewise for the first search.
	coarseShare = 0.125
	// plainRounds is how often the edges are fitted, each time from the corners
	// found before. With halos that reach into one another it takes longer,
	// until no corner moves by more than settledShare of its uncertainty.
	plainRounds, haloRounds = 3, 6
	settledShare            = 0.1
)

// refine measures a quad's corners on the picture: each side's edge is found
// on profiles across it, a line is fitted, and neighbouring lines are crossed.
// black is the pattern as it lies in the quad; tolerance is how far off, in px,
// the quad may be.
func refine(p plane8, q [4]Pixel, black modules, tolerance float64) (r refined, ok bool) {
	if q, ok = steepestSides(p, q, tolerance); !ok {
		return r, false
	}
	return refineSteepest(p, q, black)
}

// refineSteepest does so from the steepest rise along the sides.
func refineSteepest(p plane8, q [4]Pixel, black modules) (r refined, ok bool) {
	var known erfStep
	unsettled := true
	for round := 0; round < plainRounds || round < haloRounds && unsettled; round++ {
		limit := max(2, fineShare*shortestSide(q))
		half := limit
		if round > 0 {
			half = min(limit, max(2, known.reach()))
		}
		var good bool
		if r, good = fineRound(p, q, black, half, known); !good || !convex(r.corners) {
			return r, false
		}
		reaches := r.step.halo > 0 && shortestSide(q) < markSide*surroundReach*r.step.wide
		unsettled = reaches && farthest(q, r.corners) > settledShare*r.u[0]
		q, known = r.corners, r.step
	}
	steep := known.steepness()
	r.blur = math.Sqrt(max(0, steep*steep-interpolationVariance))
	return r, true
}

// steepestSides carries a quad that may be tolerance px off to the steepest rise along its sides.
func steepestSides(p plane8, q [4]Pixel, tolerance float64) (on [4]Pixel, ok bool) {
	half := min(max(2.5, tolerance), max(2, coarseShare*shortestSide(q)))
	for range 2 { // the second round starts from the first's corners
		lines, edges, good := coarseLines(p, q, half)
		if !good {
			return q, false
		}
		if q, _, good = crossAll(edges, lines); !good || !convex(q) {
			return q, false
		}
	}
	return q, true
}

// farthest is the greatest distance between corners of the same place.
func farthest(a, b [4]Pixel) (most float64) {
	for i := range 4 {
		most = max(most, a[i].Distance(b[i]))
	}
	return most
}

// coarseLines finds the four sides by their steepest rise.
func coarseLines(p plane8, q [4]Pixel, half float64) (lines [4]line, edges [4]edge, ok bool) {
	for i := range 4 {
		edges[i] = newEdge(q[i], q[(i+1)%4])
		if lines[i], ok = fitLine(edges[i].coarse(p, half), 0.25); !ok {
			return lines, edges, false
		}
	}
	return lines, edges, true
}

// fineRound fits the edge model on all four sides and crosses the lines.
// A start without a sigma means that the edges' shape is not known yet.
func fineRound(p plane8, q [4]Pixel, black modules, half float64, start erfStep) (r refined, ok bool) {
	var edges [4]edge
	var lines [4]line
	var sampled [4][][]float64
	var step float64
	for i := range 4 {
		edges[i] = newEdge(q[i], q[(i+1)%4])
		sampled[i], step = edges[i].profiles(p, half)
	}
	for i := range 4 {
		depth := (edges[(i+1)%4].length + edges[(i+3)%4].length) / 2
		m := surround{seenFrom(black, i), edges[i].length / markSide, depth / markSide, start.edgeShape}
		if m.needed() {
			m.takeFromSide(edges[i], sampled[i], start, -half, step)
		}
	}
	known, ok := stepsOf(sampled, half, step, start.edgeShape)
	if !ok {
		return r, false
	}
	for i := range 4 {
		if lines[i], ok = fitLine(edges[i].fine(sampled[i], half, step, known[i]), 0.01); !ok {
			return r, false
		}
		r.contrast += lines[i].contrast / 4
		r.step.black, r.step.rise = r.step.black+known[i].black/4, r.step.rise+known[i].rise/4
	}
	r.step.edgeShape = known[0].edgeShape
	r.corners, r.u, ok = crossAll(edges, lines)
	return r, ok
}

// stepsOf finds how a mark's edges rise: plainly, or with the halo of a
// sharpened picture where that is what they show. Only then are the steps'
// levels known; the shape is the same for all.
func stepsOf(sampled [4][][]float64, half, step float64, start edgeShape) (known []erfStep, ok bool) {
	var profiles [][]float64
	for i := range sampled {
		profiles = append(profiles, meanProfile(sampled[i]))
	}
	sigma := start.sigma
	if sigma == 0 {
		sigma = max(0.7, half/4)
	}
	plain, squares, steps, ok := plainShape(profiles, half, step, sigma)
	if !ok || squares > plainMisfit*plainMisfit*steps || anyCutOff(profiles) {
		sides, rest, settled := fitHalo(profiles, half, step, start)
		if settled && (!ok || rest < haloGain*squares && rest < haloMisfit*haloMisfit*steps) {
			return sides, true
		}
	}
	known = make([]erfStep, len(profiles))
	for i := range known {
		known[i].edgeShape = plain
	}
	return known, ok
}

// crossAll crosses each side's line with the side before it: corner i lies
// where side i-1 ends and side i begins.
func crossAll(edges [4]edge, lines [4]line) (q [4]Pixel, u [4]float64, ok bool) {
	for i := range 4 {
		before := (i + 3) % 4
		if q[i], u[i], ok = cross(edges[before], lines[before], edges[i], lines[i]); !ok {
			return q, u, false
		}
	}
	return q, u, true
}

// cross intersects two lines given in the axes of their edges and returns the
// point in px with the standard uncertainty of a coordinate.
//
// Each line is the set where n(p) - c0 - c1 s(p) = 0, a linear form g.p = k;
// the point solves the 2 x 2 system G p = k, and its covariance is
// G^-1 diag(u1^2, u2^2) G^-T with u the line's uncertainty at the point.
func cross(e1 edge, l1 line, e2 edge, l2 line) (p Pixel, u float64, ok bool) {
	gx1, gy1, k1 := e1.form(l1)
	gx2, gy2, k2 := e2.form(l2)
	det := gx1*gy2 - gx2*gy1
	if math.Abs(det) < 0.1 { // sides that meet at less than about 6 degrees
		return p, 0, false
	}
	p = Pixel{X: (k1*gy2 - k2*gy1) / det, Y: (gx1*k2 - gx2*k1) / det}
	v1, v2 := l1.variance(e1.along(p)), l2.variance(e2.along(p))
	trace := (v1*(gx2*gx2+gy2*gy2) + v2*(gx1*gx1+gy1*gy1)) / (det * det)
	return p, math.Sqrt(trace / 2), true
}

// along is the coordinate s of a pixel in the edge's axes.
func (e edge) along(p Pixel) float64 {
	return (p.X-e.middle.X)*e.alongX + (p.Y-e.middle.Y)*e.alongY
}

// form writes n - c0 - c1 s = 0 as gx x + gy y = k.
func (e edge) form(l line) (gx, gy, k float64) {
	gx, gy = e.alongY-l.c1*e.alongX, -e.alongX-l.c1*e.alongY
	return gx, gy, l.c0 + gx*e.middle.X + gy*e.middle.Y
}
