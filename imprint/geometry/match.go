package geometry

import (
	"cmp"
	"math"
	"slices"

	"gonum.org/v1/gonum/mat"
)

// What is looked for when two photos' dots are compared.
const (
	highest = -6.0 // mm below the frame's plane (so above it) at which a dot is looked for
	lowest  = 50.0 // mm, likewise: deeper than any pad's dent under a frame (an assumption)
	// mm by which two lines of sight may miss each other: poses from one photo alone are no better
	missBy   = 0.9
	likeSize = 1.7 // ratio of two dots' radii beyond which they are not one
	// Neighbours' heights: slopes up to steepest, and a little for what the first poses leave.
	neighbourhood = 24.0 // mm
	steepest      = 0.7  // mm/mm
	looseHeight   = 0.6  // mm
)

// pair says that dot A of one photo may be dot B of another, and the depth at which their lines of sight
// meet.
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

// How unlike the sights of one dot may be: standard deviations of what their lines miss each other by (mm,
// first poses included), of the logarithm of their sizes, of their contrasts. None is how likely it is,
// against a perfect pair, that a dot has no partner, before and after its neighbours are heard.
const (
	missU     = 0.25
	sizeU     = 0.2
	toneU     = 0.3
	none      = 0.05
	noneAfter = 0.01
	unheard   = 0.02 // what a pair counts for without any neighbour
	believed  = 0.6  // probability from which a pair is taken
)

// match decides which candidates are true. Each has a likelihood by its miss and by how alike the two dots
// are, and a probability that its neighbours' candidates at like depths raise, in turns (relaxation:
// Rosenfeld, Hummel and Zucker, IEEE Trans. SMC 6 (1976) 420; page from memory, the paper settles it). Each
// dot is matched once at the most.
func match(a, b []sightline, likely func(pair) float64) []pair {
	all := candidates(a, b, missBy)
	if len(all) == 0 {
		return nil
	}
	near := neighbours(a)
	byDot := make([][]int, len(a))
	most := make([]float64, len(a)) // of what speaks for a dot's candidates beforehand
	alike := make([]float64, len(all))
	for k, p := range all {
		byDot[p.a] = append(byDot[p.a], k)
		alike[k] = likely(p)
		most[p.a] = math.Max(most[p.a], alike[k])
	}
	for k, p := range all {
		miss := p.miss / missU
		size := math.Log(a[p.a].radius/b[p.b].radius) / sizeU
		tone := (a[p.a].contrast - b[p.b].contrast) / toneU
		alike[k] *= math.Exp(-0.5*(miss*miss+size*size+tone*tone)) / most[p.a]
		all[k].score = alike[k]
	}
	share(all, byDot, none)
	said := voices(all, near, byDot)
	for range 8 {
		hear(all, alike, said)
		share(all, byDot, noneAfter)
	}
	return grow(all, best(all), near, byDot)
}

// share makes the scores of a dot's candidates, and of its having none, add up to one.
func share(all []pair, byDot [][]int, none float64) {
	for _, of := range byDot {
		total := none
		for _, k := range of {
			total += all[k].score
		}
		for _, k := range of {
			all[k].score /= total
		}
	}
}

// neighbours are the dots near each, by its place on the frame's plane.
func neighbours(lines []sightline) [][]int {
	near := make([][]int, len(lines))
	for i, l := range lines {
		for j, m := range lines {
			dx, dy := l.at[0]-m.at[0], l.at[1]-m.at[1]
			if i != j && dx*dx+dy*dy < neighbourhood*neighbourhood {
				near[i] = append(near[i], j)
			}
		}
	}
	return near
}

// voice is what one candidate says of another's depth: how like it its own is.
type voice struct {
	of   int
	like float64
}

// voices are, of each candidate, those of its neighbours' candidates, a list a neighbour.
func voices(all []pair, near, byDot [][]int) [][][]voice {
	said := make([][][]voice, len(all))
	for k, p := range all {
		for _, n := range near[p.a] {
			of := make([]voice, 0, len(byDot[n]))
			for _, c := range byDot[n] {
				q := all[c]
				t := (q.depth - p.depth) / (looseHeight + steepest/2*math.Hypot(q.at[0]-p.at[0], q.at[1]-p.at[1]))
				of = append(of, voice{c, math.Exp(-t * t)})
			}
			said[k] = append(said[k], of)
		}
	}
	return said
}

// hear is one turn: a candidate's likelihood times what its neighbours' candidates say of its depth.
func hear(all []pair, alike []float64, said [][][]voice) {
	next := make([]float64, len(all))
	for k := range all {
		sum := 0.0
		for _, neighbour := range said[k] {
			most := 0.0
			for _, v := range neighbour {
				most = max(most, all[v.of].score*v.like)
			}
			sum += most
		}
		next[k] = alike[k] * (unheard + sum/math.Max(1, float64(len(said[k]))))
	}
	for k := range all {
		all[k].score = next[k]
	}
}

// best takes the candidates in the order of their probabilities, each dot once.
func best(all []pair) (chosen []pair) {
	order := slices.Clone(all)
	slices.SortStableFunc(order, func(p, q pair) int { return cmp.Compare(q.score, p.score) })
	usedA, usedB := map[int]bool{}, map[int]bool{}
	for _, p := range order {
		if p.score < believed {
			break
		}
		if !usedA[p.a] && !usedB[p.b] {
			usedA[p.a], usedB[p.b] = true, true
			chosen = append(chosen, p)
		}
	}
	return chosen
}

// grow adds, in turns, the candidates that agree with the plane through their matched neighbours, and takes
// out what does not: the sure ones show the way to the steep and the deep.
func grow(all, chosen []pair, near, byDot [][]int) []pair {
	matched := make([]*pair, len(near))
	usedB := map[int]bool{}
	for _, p := range chosen {
		matched[p.a], usedB[p.b] = &p, true
	}
	for range mostRounds {
		changed := false
		for i := range near {
			expected, within, ok := predict(i, matched, near, all, byDot)
			if !ok {
				continue
			}
			if p := matched[i]; p != nil {
				if math.Abs(p.depth-expected(p)) > 2*within {
					usedB[p.b], matched[i], changed = false, nil, true
				}
				continue
			}
			if p := nearestTo(expected, within, all, byDot[i], usedB); p != nil {
				matched[i], usedB[p.b], changed = p, true, true
			}
		}
		if !changed {
			break
		}
	}
	var grown []pair
	for _, p := range matched {
		if p != nil {
			grown = append(grown, *p)
		}
	}
	return grown
}

const (
	mostRounds = 20
	enoughNear = 4 // matched neighbours that a prediction rests on
	// mm by which a depth may be off its neighbours' plane, and a share of how far these themselves are
	leastWithin = 0.8
)

// predict is the depth that a dot's matched neighbours give it, by the plane through them, and how far off it
// may be.
func predict(i int, matched []*pair, near [][]int, all []pair, byDot [][]int) (expected func(*pair) float64,
	within float64, ok bool) {
	var around []*pair
	for _, n := range near[i] {
		if matched[n] != nil {
			around = append(around, matched[n])
		}
	}
	if len(around) < enoughNear || len(byDot[i]) == 0 {
		return nil, 0, false
	}
	middle := all[byDot[i][0]].at
	slices.SortFunc(around, func(p, q *pair) int {
		return cmp.Compare(math.Hypot(p.at[0]-middle[0], p.at[1]-middle[1]),
			math.Hypot(q.at[0]-middle[0], q.at[1]-middle[1]))
	})
	around = around[:min(len(around), 8)]
	plane, off := planeThrough(around, middle)
	return func(p *pair) float64 {
		return plane[0] + plane[1]*(p.at[0]-middle[0]) + plane[2]*(p.at[1]-middle[1])
	}, math.Max(leastWithin, 2.5*off), true
}

// planeThrough fits depths by a plane about a middle, held flat a little so that few points on a line still
// give one; off is the root mean square of what it leaves.
func planeThrough(list []*pair, middle [2]float64) (plane [3]float64, off float64) {
	a, b := mat.NewSymDense(3, nil), mat.NewVecDense(3, nil)
	for i, held := range [3]float64{1e-6, 4, 4} {
		a.SetSym(i, i, held)
	}
	for _, p := range list {
		g := [3]float64{1, p.at[0] - middle[0], p.at[1] - middle[1]}
		for i := range 3 {
			b.SetVec(i, b.AtVec(i)+g[i]*p.depth)
			for j := i; j < 3; j++ {
				a.SetSym(i, j, a.At(i, j)+g[i]*g[j])
			}
		}
	}
	var chol mat.Cholesky
	var x mat.VecDense
	if !chol.Factorize(a) || chol.SolveVecTo(&x, b) != nil {
		return plane, math.Inf(1)
	}
	copy(plane[:], x.RawVector().Data)
	for _, p := range list {
		d := p.depth - plane[0] - plane[1]*(p.at[0]-middle[0]) - plane[2]*(p.at[1]-middle[1])
		off += d * d / float64(len(list))
	}
	return plane, math.Sqrt(off)
}

// nearestTo is the candidate nearest to its expected depth, if it is near and no other is as likely.
func nearestTo(expected func(*pair) float64, within float64, all []pair, of []int, usedB map[int]bool) *pair {
	var best *pair
	least, second := math.Inf(1), math.Inf(1)
	for _, k := range of {
		p := &all[k]
		if usedB[p.b] {
			continue
		}
		d := math.Abs(p.depth-expected(p)) + p.miss
		if d < least {
			best, least, second = p, d, least
		} else if d < second {
			second = d
		}
	}
	if best == nil || math.Abs(best.depth-expected(best)) > within || second < 2*least {
		return nil
	}
	return best
}
