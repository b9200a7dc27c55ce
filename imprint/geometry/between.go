package geometry

import (
	"math"

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

// withGrain lays the surface once more, with what the pad shows between its dots near either bottom. It
// returns nil where that is too little to matter.
func (s *scene) withGrain(r *Relief, bounds surface.Bounds) *Relief {
	var views []grain.View
	var spots [][]grain.Spot
	for v, p := range s.photos {
		if p.Raster == nil {
			return nil
		}
		c := r.Adjusted.Poses[v].Position
		views = append(views, grain.View{Raster: p.Raster, X: c[0], Y: c[1], Height: -c[2]})
		var of []grain.Spot
		for _, d := range p.Dots {
			of = append(of, grain.Spot{At: d.Point, Radius: d.RadiusMM + rim})
		}
		spots = append(spots, of)
	}
	matches := grain.Between(views, spots, r.places(views[0]))
	if len(matches) < leastBetween {
		return nil
	}
	photos, more := pointsOf(s.photos, matches)
	t := newScene(photos, append(append([]track{}, s.tracks...), more...), s.withheld)
	t.held = s.held
	var err error
	if t.adjusted, err = bundle.Adjust(&t.Scene); err != nil {
		return nil
	}
	finer, err := t.relief(t.adjusted, bounds)
	if err != nil {
		return nil
	}
	return finer
}

// places are those about either bottom at which something may be recognised, as a view shows them.
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
	const h = 0.5 // mm
	for k, p := range at {
		z := r.Surface.At(p[0], p[1])
		shrink := first.Height / (first.Height + z) // equation (1), from the surface to the plane
		all = append(all, grain.Place{
			At: raster.Point{X: first.X + (p[0]-first.X)*shrink, Y: first.Y + (p[1]-first.Y)*shrink},
			Z:  z, U: u[k],
			ByX: (r.Surface.At(p[0]+h, p[1]) - r.Surface.At(p[0]-h, p[1])) / (2 * h) / shrink,
			ByY: (r.Surface.At(p[0], p[1]+h) - r.Surface.At(p[0], p[1]-h)) / (2 * h) / shrink,
		})
	}
	return all
}
