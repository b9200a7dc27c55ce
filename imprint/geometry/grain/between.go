package grain

import (
	"math"
	"slices"
	"sync"

	"sitspan/imprint/geometry/raster"
)

// Place is where the surface is known nearly: a point of the pad as the first view shows it.
type Place struct {
	At   raster.Point // where its line of sight meets the frame's plane
	Z, U float64      // mm below the plane, and its standard uncertainty
	// The surface's slopes along the first view's x and y on the plane, mm/mm, and its second derivatives, 1/mm:
	// a patch at the bottom of a dent is no plane.
	ByX, ByY   float64
	XX, XY, YY float64
}

const (
	// BetweenRadius is that of a patch in mm that stands between dots: smaller, it shows too little; larger, it
	// is no plane.
	BetweenRadius = 2.75
	// fewest is how many of its samples no dot may hide.
	fewest = 45
	// surest is the correlation that such a patch needs with each other photo: a chance one of fewest samples
	// has a standard deviation of 0.27 (1.2 independent ones a mm^2), and three photos must agree.
	surest = 0.6
)

// Between looks for what lies between a pad's dots, at places whose depth is known to within a few u. spots
// are each view's dots. Nothing is taken where the best depth is the first or the last that was tried.
func Between(views []View, spots [][]Spot, places []Place) (found []Match) {
	if len(places) == 0 {
		return nil
	}
	m := &matcher{views: views}
	m.details = detailsOf(m.partsAt(places), spots)
	all := disc(BetweenRadius)
	for _, place := range places {
		p, ok := m.newPatch(place.At.X, place.At.Y, beside(all, place.At, spots[0]))
		p.bend = bend{place.XX, place.XY, place.YY}
		if !ok || len(p.samples) < fewest || !m.settle(&p, place) {
			continue
		}
		if f, ok := m.matchOf(&p); ok {
			found = append(found, f)
		}
	}
	return found
}

// looksUp is how far from a place a patch is read: its own radius, grown by what lies nearer to a camera, and
// what it is moved by.
const looksUp = BetweenRadius + 4 // mm

// partsAt are the views, of which each raster is cut down to what is seen of the places and what their
// details depend on: two bottoms take half of a window.
func (m *matcher) partsAt(places []Place) []View {
	parts := slices.Clone(m.views)
	for v := range parts {
		from, to := raster.Point{X: math.Inf(1), Y: math.Inf(1)}, raster.Point{X: math.Inf(-1), Y: math.Inf(-1)}
		for _, p := range places {
			x, y := m.seenAt(v, &patch{x: p.At.X, y: p.At.Y}, plane{z: p.Z}, 0, 0)
			from.X, from.Y = min(from.X, x-looksUp-reach), min(from.Y, y-looksUp-reach)
			to.X, to.Y = max(to.X, x+looksUp+reach), max(to.Y, y+looksUp+reach)
		}
		parts[v].Raster = parts[v].Raster.Cut(from, to)
	}
	return parts
}

// detailsOf are the views' details, worked out side by side. spots are nil where no view has any.
func detailsOf(views []View, spots [][]Spot) []detail {
	all := make([]detail, len(views))
	var group sync.WaitGroup
	for v := range views {
		group.Go(func() {
			var of []Spot
			if spots != nil {
				of = spots[v]
			}
			all[v] = detailOf(views[v].Raster, of)
		})
	}
	group.Wait()
	return all
}

// beside are the samples of a patch that no spot hides.
func beside(samples [][2]float64, at raster.Point, spots []Spot) (free [][2]float64) {
	var near []Spot
	for _, s := range spots {
		if math.Hypot(s.At.X-at.X, s.At.Y-at.Y) < s.Radius+BetweenRadius {
			near = append(near, s)
		}
	}
next:
	for _, o := range samples {
		for _, s := range near {
			if math.Hypot(at.X+o[0]-s.At.X, at.Y+o[1]-s.At.Y) <= s.Radius {
				continue next
			}
		}
		free = append(free, o)
	}
	return free
}

// settle finds the depth at which all views show the same; false where none stands out within what is known.
func (m *matcher) settle(p *patch, place Place) bool {
	const step = 0.1 // mm
	reach := math.Ceil(3*math.Min(math.Max(place.U, 0.1), 0.4)/step) * step
	best, at := -1.0, 0.0
	for d := -reach; d <= reach+step/2; d += step {
		q := plane{place.Z + d, place.ByX, place.ByY}
		if s := m.scoreOf(p, q); s > best {
			best, at = s, d
			p.plane, p.score = q, s
		}
	}
	return best >= surest && math.Abs(at) < reach-step/2
}
