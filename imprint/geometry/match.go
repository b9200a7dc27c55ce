package geometry

import (
	"math"
	"slices"
)

// What is looked for when two photos' dots are compared.
const (
	highest  = -6.0 // mm below the frame's plane (so above it) at which a dot is looked for
	lowest   = 50.0 // mm, likewise: deeper than any pad's dent under a frame (an assumption)
	missBy   = 0.9  // mm by which two lines of sight may miss each other: poses from one photo alone are no better
	likeSize = 1.7  // ratio of two dots' radii beyond which they are not one
	// Neighbours' heights: slopes up to steepest, and a little for what the first poses leave.
	neighbourhood = 24.0 // mm
	steepest      = 0.7  // mm/mm
	looseHeight   = 0.6  // mm
)

// pair says that dot A of one photo may be dot B of another, and the depth at which their lines of sight meet.
type pair struct {
	a, b  int
	depth float64 // mm
	miss  float64 // mm between the lines there
	at    [2]float64
	score float64
}

// candidates are all pairs of dots whose lines of sight nearly meet at a possible depth.
func candidates(a, b []sightline, missBy float64) (all []pair) {
	for i, l := range a {
		for j, m := range b {
			p, ok := meet(l, m)
			if ok && p.miss < missBy {
				p.a, p.b = i, j
				all = append(all, p)
			}
		}
	}
	return all
}

// meet is where two lines of sight come nearest.
func meet(l, m sightline) (p pair, ok bool) {
	dx, dy := l.at[0]-m.at[0], l.at[1]-m.at[1]
	gx, gy := l.slope[0]-m.slope[0], l.slope[1]-m.slope[1]
	g2 := gx*gx + gy*gy
	if g2 < 1e-4 || dx*dx+dy*dy > g2*lowest*lowest+1 { // seen from one place; too far apart for any depth
		return p, false
	}
	p.depth = -(dx*gx + dy*gy) / g2
	if p.depth < highest || p.depth > lowest {
		return p, false
	}
	p.miss = math.Abs(dx*gy-dy*gx) / math.Sqrt(g2)
	if r := l.radius / m.radius; r > likeSize || r < 1/likeSize {
		return p, false
	}
	for k := range 2 {
		p.at[k] = (l.at[k] + p.depth*l.slope[k] + m.at[k] + p.depth*m.slope[k]) / 2
	}
	return p, true
}

// match decides which candidates are true: each is scored by how many of its neighbours have a candidate at a like
// depth, in turns (relaxation: Rosenfeld, Hummel and Zucker, IEEE Trans. SMC 6 (1976) 420, from memory), the miss
// and the likeness of the two dots counting, too. Each dot is matched once at the most.
func match(a, b []sightline, likely func(pair) float64) []pair {
	all := candidates(a, b, missBy)
	if len(all) == 0 {
		return nil
	}
	for k := range all {
		p := &all[k]
		size := math.Log(a[p.a].radius/b[p.b].radius) / 0.25
		tone := (a[p.a].contrast - b[p.b].contrast) / 0.35
		p.score = likely(*p) * math.Exp(-0.5*(p.miss*p.miss/(0.35*0.35)+size*size+tone*tone))
	}
	near := neighbours(a)
	byDot := make([][]int, len(a))
	for k, p := range all {
		byDot[p.a] = append(byDot[p.a], k)
	}
	first := make([]float64, len(all))
	for k := range all {
		first[k] = all[k].score
	}
	for range 8 {
		support(all, first, near, byDot)
	}
	return best(all)
}

// neighbours are the dots near each, by its place on the frame's plane.
func neighbours(lines []sightline) [][]int {
	near := make([][]int, len(lines))
	for i, l := range lines {
		for j, m := range lines {
			if i != j && math.Hypot(l.at[0]-m.at[0], l.at[1]-m.at[1]) < neighbourhood {
				near[i] = append(near[i], j)
			}
		}
	}
	return near
}

// support is one turn: a candidate's score is its own likelihood times what its neighbours' candidates say of its
// depth, made to add up to one for each dot.
func support(all []pair, first []float64, near, byDot [][]int) {
	next := make([]float64, len(all))
	for k, p := range all {
		sum, weight := 0.0, 0.0
		for _, n := range near[p.a] {
			most := 0.0
			for _, c := range byDot[n] {
				q := all[c]
				d := math.Hypot(q.at[0]-p.at[0], q.at[1]-p.at[1])
				t := (q.depth - p.depth) / (looseHeight + steepest/2*d)
				most = math.Max(most, q.score*math.Exp(-t*t))
			}
			sum, weight = sum+most, weight+1
		}
		next[k] = first[k] * (0.02 + sum/math.Max(1, weight))
	}
	for _, of := range byDot {
		total := 1e-12
		for _, k := range of {
			total += next[k]
		}
		for _, k := range of {
			all[k].score = next[k] / total
		}
	}
	// The raw support is kept beside the share, so that a lone wrong candidate does not score 1.
	for k := range all {
		all[k].score *= next[k] / (first[k] + 1e-12)
	}
}

// best takes the candidates in the order of their scores, each dot once, and leaves out what no neighbour bears out or
// what is hardly better than another candidate for the same dot.
func best(all []pair) (chosen []pair) {
	const leastScore, clearly = 0.2, 1.5
	slices.SortStableFunc(all, func(p, q pair) int {
		switch {
		case p.score > q.score:
			return -1
		case p.score < q.score:
			return 1
		}
		return 0
	})
	usedA, usedB := map[int]bool{}, map[int]bool{}
	for k, p := range all {
		if p.score < leastScore || usedA[p.a] || usedB[p.b] {
			continue
		}
		rival := slices.ContainsFunc(all[k+1:], func(q pair) bool {
			return (q.a == p.a && !usedB[q.b] || q.b == p.b && !usedA[q.a]) && q.score*clearly > p.score
		})
		usedA[p.a], usedB[p.b] = true, true
		if !rival {
			chosen = append(chosen, p)
		}
	}
	return chosen
}
