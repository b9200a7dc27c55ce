package geometry

import (
	"math"
	"slices"
	"sync"

	"sitspan/imprint/geometry/bundle"
	"sitspan/imprint/geometry/grain"
	"sitspan/imprint/geometry/raster"
	"sitspan/imprint/geometry/surface"
)

const (
	betweenReach = 18.0 // mm about a bottom within which the pad's grain is looked for
	betweenStep  = 3.5  // mm
	rim          = 0.7  // mm about a dot that its blur and a sharpening reach
	leastBetween = 5    // matches that are worth another adjustment
)

// withGrain lays the surface once more, with what the pad shows about either bottom: between its dots, or in
// place of the large patches there. It returns nil where that is too little to matter.
func (s *scene) withGrain(r *Relief, bounds surface.Bounds) *Relief {
	views, spots := s.views(r)
	if views == nil {
		return nil
	}
	matches := r.between(views, spots)
	if len(matches) < leastBetween {
		return nil
	}
	kept := s.keptBeside(r)
	photos, more := pointsOf(s.photos, matches)
	t := newScene(photos, append(kept.tracks, more...), s.withheld)
	t.held, t.withheld = s.held, s.withheld
	copy(t.patches, kept.patches)
	for k := len(kept.tracks); k < len(t.patches); k++ {
		t.patches[k] = grain.BetweenRadius
	}
	var err error
	if t.adjusted, err = bundle.Adjust(&t.Scene); err != nil {
		return nil
	}
	finer, err := t.relief(t.adjusted, bounds, r.Surface)
	if err != nil || !s.dotted() && (finer.Left.Near < r.Left.Near || finer.Right.Near < r.Right.Near) {
		return nil
	}
	return finer
}

// between is what is recognised about the left bottom, then the right one; both are looked at side by side.
func (r *Relief) between(views []grain.View, spots [][]grain.Spot) []grain.Match {
	places := r.places(views[0])
	var sides [2][]grain.Match
	var group sync.WaitGroup
	for side, half := 0, len(places)/2; side < 2; side++ {
		group.Go(func() { sides[side] = grain.Between(views, spots, places[side*half:(side+1)*half]) })
	}
	group.Wait()
	return slices.Concat(sides[0], sides[1])
}

// views are the photos' windows and the dots in them; nil where a photo has none.
func (s *scene) views(r *Relief) (views []grain.View, spots [][]grain.Spot) {
	for v, p := range s.photos {
		if p.Raster == nil {
			return nil, nil
		}
		c := r.Adjusted.Poses[v].Position
		views = append(views, grain.View{Raster: p.Raster, X: c[0], Y: c[1], Height: -c[2]})
		var of []grain.Spot
		if s.dotted() {
			for _, d := range p.Dots {
				of = append(of, grain.Spot{At: d.Point, Radius: d.RadiusMM + rim})
			}
		}
		spots = append(spots, of)
	}
	return views, spots
}

// dotted tells whether the scene's points are dots.
func (s *scene) dotted() bool { return s.patches[0] == 0 }

// keptBeside is what stays where small patches about the bottoms are added: dots, and large patches that do
// not lie under these.
func (s *scene) keptBeside(r *Relief) (kept struct {
	tracks  []track
	patches []float64
}) {
	for k, t := range s.tracks {
		x := r.Adjusted.Ties[k]
		near := math.Min(math.Hypot(x[0]-r.Left.X, x[1]-r.Left.Y), math.Hypot(x[0]-r.Right.X, x[1]-r.Right.Y))
		if s.patches[k] == 0 || near > betweenReach {
			kept.tracks, kept.patches = append(kept.tracks, t), append(kept.patches, s.patches[k])
		}
	}
	return kept
}

// places are those about either bottom at which something may be recognised, as a view shows them: the left
// one's, then as many of the right one.
func (r *Relief) places(first grain.View) (all []grain.Place) {
	var at [][2]float64
	for _, b := range []surface.Bottom{r.Left, r.Right} {
		for y := -betweenReach; y <= betweenReach; y += betweenStep {
			for x := -betweenReach; x <= betweenReach; x += betweenStep {
				if math.Hypot(x, y) <= betweenReach {
					at = append(at, [2]float64{b.X + x, b.Y + y})
				}
			}
		}
	}
	u, err := r.Surface.UAtAll(at, r.Shared)
	if err != nil {
		return nil
	}
	for k, p := range at {
		all = append(all, r.place(p, u[k], first))
	}
	return all
}

// place is a point of the surface with its slopes and its bend, by differences over 2 mm.
func (r *Relief) place(p [2]float64, u float64, first grain.View) grain.Place {
	const h = 1.0 // mm
	var z [3][3]float64
	for j := range z {
		for i := range z[j] {
			z[j][i] = r.Surface.At(p[0]+h*float64(i-1), p[1]+h*float64(j-1))
		}
	}
	shrink := first.Height / (first.Height + z[1][1]) // equation (1), from the surface to the plane
	return grain.Place{
		At:  raster.Point{X: first.X + (p[0]-first.X)*shrink, Y: first.Y + (p[1]-first.Y)*shrink},
		Z:   z[1][1],
		U:   u,
		ByX: (z[1][2] - z[1][0]) / (2 * h) / shrink,
		ByY: (z[2][1] - z[0][1]) / (2 * h) / shrink,
		XX:  (z[1][2] - 2*z[1][1] + z[1][0]) / (h * h) / (shrink * shrink),
		YY:  (z[2][1] - 2*z[1][1] + z[0][1]) / (h * h) / (shrink * shrink),
		XY:  (z[2][2] - z[2][0] - z[0][2] + z[0][0]) / (4 * h * h) / (shrink * shrink),
	}
}
