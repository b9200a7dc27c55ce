package geometry

import (
	"math"
	"sync"
)

// track is one dot of the pad as the photos show it: its index among each photo's dots, -1 where not seen.
type track []int

func (t track) seen() (n int) {
	for _, k := range t {
		if k >= 0 {
			n++
		}
	}
	return n
}

// tracks match each two photos and put the pairs together. A track that would hold two dots of one photo is a
// contradiction, and of it nothing is kept.
func tracks(photos [][]sightline) []track {
	n := len(photos)
	parent := map[[2]int][2]int{}
	var find func(k [2]int) [2]int
	find = func(k [2]int) [2]int {
		p, ok := parent[k]
		if !ok || p == k {
			return k
		}
		r := find(p)
		parent[k] = r
		return r
	}
	for _, two := range matchAll(photos) {
		for _, p := range two.pairs {
			a, b := find([2]int{two.i, p.a}), find([2]int{two.j, p.b})
			parent[a] = b
		}
	}
	members := map[[2]int][][2]int{}
	var order [][2]int
	for i := range n {
		for k := range photos[i] {
			r := find([2]int{i, k})
			if members[r] == nil {
				order = append(order, r)
			}
			members[r] = append(members[r], [2]int{i, k})
		}
	}
	var all []track
	for _, r := range order {
		if t, ok := trackOf(members[r], n); ok && t.seen() > 1 {
			all = append(all, t)
		}
	}
	return all
}

// matched are the pairs of dots of two photos.
type matched struct {
	i, j  int
	pairs []pair
}

// matchAll matches each two photos, side by side.
func matchAll(photos [][]sightline) (all []*matched) {
	var group sync.WaitGroup
	for i := range photos {
		for j := i + 1; j < len(photos); j++ {
			two := &matched{i: i, j: j}
			all = append(all, two)
			group.Go(func() { two.pairs = match(photos[i], photos[j], borneOut(photos, i, j)) })
		}
	}
	group.Wait()
	return all
}

func trackOf(members [][2]int, photos int) (track, bool) {
	t := make(track, photos)
	for i := range t {
		t[i] = -1
	}
	for _, m := range members {
		if t[m[0]] >= 0 {
			return nil, false
		}
		t[m[0]] = m[1]
	}
	return t, true
}

// borneOut weighs a pair of two photos by the others: where they should show the dot, and do, it is likelier.
func borneOut(photos [][]sightline, i, j int) func(pair) float64 {
	return func(p pair) float64 {
		weight := 1.0
		for k, lines := range photos {
			if k == i || k == j {
				continue
			}
			nearest := math.Inf(1) // mm^2
			for _, l := range lines {
				dx := l.at[0] + p.depth*l.slope[0] - p.at[0]
				dy := l.at[1] + p.depth*l.slope[1] - p.at[1]
				nearest = min(nearest, dx*dx+dy*dy)
			}
			weight *= 0.15 + math.Exp(-0.5*nearest/(0.5*0.5))
		}
		return weight
	}
}
