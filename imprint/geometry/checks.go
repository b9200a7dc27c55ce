package geometry

import (
	"math"
	"slices"

	"sitspan/imprint/geometry/bundle"
	"sitspan/imprint/geometry/surface"
)

// Checks judge the adjustment by what took no part in it.
type Checks struct {
	// Marks are the frame's marks that were withheld; MarkRMS is how far their corners, seen along the adjusted
	// lines of sight, lie from where the frame has them, along x and y, mm.
	Marks   []int
	MarkRMS float64
	// Dots is how many dots were withheld; DotRMS is how far they lie above or below the surface through the
	// others, mm, and DotRatio the same in standard uncertainties: about 1 where these are honest.
	Dots             int
	DotRMS, DotRatio float64
}

// enoughMarks is how many marks two photos must share before any is withheld: the others are to hold the
// frame.
const enoughMarks = 9

// withheldMarks are two marks, across from each other and neither at a corner, or none where marks are
// scarce.
func withheldMarks(photos []Photo) (ids []int) {
	type place struct{ x, y, n float64 }
	common := map[int]*place{}
	for _, p := range photos {
		for _, c := range p.Corners {
			if common[c.Mark] == nil {
				common[c.Mark] = &place{}
			}
			q := common[c.Mark]
			q.x, q.y, q.n = q.x+c.X, q.y+c.Y, q.n+1
		}
	}
	var all []int
	for id, q := range common {
		if q.n == float64(4*len(photos)) {
			all = append(all, id)
		}
	}
	if len(all) < enoughMarks {
		return nil
	}
	slices.Sort(all)
	for _, side := range []float64{-1, 1} {
		nearest, least := -1, math.Inf(1)
		for _, id := range all {
			q := common[id]
			if d := math.Hypot(q.x/q.n-side*55, q.y/q.n-side*83); d < least {
				nearest, least = id, d
			}
		}
		ids = append(ids, nearest)
	}
	return ids
}

// Of the shallower half of the dots every withheldEvery-th is withheld, so that no bottom loses one.
const withheldEvery = 16

// withheldTracks parts the tracks into those that are adjusted and those that check.
func withheldTracks(lines [][]sightline, all []track) (used, held []track) {
	depth := make([]float64, len(all))
	for k, t := range all {
		if x, _, ok := bundle.Meet(rays(lines, t)); ok {
			depth[k] = x[2]
		}
	}
	sorted := slices.Clone(depth)
	slices.Sort(sorted)
	middle := sorted[len(sorted)/2]
	shallow := 0
	for k, t := range all {
		if depth[k] < middle {
			if shallow++; shallow%withheldEvery == 0 {
				held = append(held, t)
				continue
			}
		}
		used = append(used, t)
	}
	return used, held
}

// rays are a track's lines of sight.
func rays(lines [][]sightline, t track) (all []bundle.Ray) {
	for v, i := range t {
		if i >= 0 {
			all = append(all, bundle.Ray{At: lines[v][i].at, Slope: lines[v][i].slope})
		}
	}
	return all
}

// check compares what was withheld.
func (s *scene) check(a *bundle.Adjusted, r *Relief, held []track, marks []int) (c Checks) {
	lines := s.seen(a)
	var off, ratio []float64
	for _, t := range held {
		x, _, ok := bundle.Meet(rays(lines, t))
		if !ok {
			continue
		}
		d := x[2] - r.Surface.At(x[0], x[1])
		u := math.Sqrt(math.Pow(r.Surface.UAt(x[0], x[1]), 2) + math.Pow(r.Surface.Roughness, 2) +
			math.Pow(medianU(r.Heights), 2))
		off, ratio = append(off, d), append(ratio, d/u)
	}
	c.Dots, c.DotRMS, c.DotRatio = len(off), rms(off), rms(ratio)
	c.Marks = marks
	c.MarkRMS = s.checkMarks(a, marks)
	return c
}

// checkMarks is how far the withheld marks' corners are off, mm, along x and y.
func (s *scene) checkMarks(a *bundle.Adjusted, marks []int) float64 {
	var off []float64
	for _, id := range marks {
		for index := range 4 {
			var sights []bundle.Ray
			var x, y float64
			for v, p := range s.photos {
				for _, c := range p.Corners {
					if c.Mark != id || c.Index != index {
						continue
					}
					x, y = c.X, c.Y
					if ray, ok := a.Ray(&s.Scene, v, bundle.Pixel{c.At.X, c.At.Y}); ok {
						sights = append(sights, ray)
					}
				}
			}
			if at, _, ok := bundle.Meet(sights); ok {
				off = append(off, at[0]-x, at[1]-y)
			}
		}
	}
	return rms(off)
}

func rms(list []float64) float64 {
	if len(list) == 0 {
		return 0
	}
	sum := 0.0
	for _, v := range list {
		sum += v * v
	}
	return math.Sqrt(sum / float64(len(list)))
}

func medianU(heights []surface.Height) float64 {
	var u []float64
	for _, h := range heights {
		u = append(u, h.U)
	}
	slices.Sort(u)
	return u[len(u)/2]
}
