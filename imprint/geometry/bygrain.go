package geometry

import (
	"fmt"
	"math"
	"slices"

	"sitspan/imprint/geometry/dots"
	"sitspan/imprint/geometry/grain"
)

// byGrain adjusts the points that the pad's own grain, weave, print or stains let recognise.
func byGrain(photos []Photo) (*scene, []int, error) {
	var views []grain.View
	var used []int
	photos = slices.Clone(photos)
	for v, p := range photos {
		used = append(used, v)
		if p.Raster == nil {
			return nil, nil, fmt.Errorf("%w: a photo shows too little of the window", ErrFewPoints)
		}
		views = append(views, grain.View{Raster: p.Raster, X: p.Position[0], Y: p.Position[1],
			Height: -p.Position[2]})
	}
	for v := range photos {
		photos[v].Dots = nil
	}
	photos, all := pointsOf(photos, grain.Find(views))
	s, err := adjust(photos, linesOf(photos), all)
	if err != nil {
		return nil, nil, err
	}
	for k := range s.patches {
		s.patches[k] = grain.Radius
	}
	return s, used, nil
}

// pointsOf adds matches to the photos' dots.
func pointsOf(photos []Photo, matches []grain.Match) ([]Photo, []track) {
	out := make([]Photo, len(photos))
	for v, p := range photos {
		p.Dots = slices.Clone(p.Dots)
		out[v] = p
	}
	var all []track
	for _, m := range matches {
		t := make(track, len(photos))
		for v, s := range m.Seen {
			t[v] = -1
			if s.U > 0 {
				t[v] = len(out[v].Dots)
				out[v].Dots = append(out[v].Dots, seenPoint(&out[v], s))
			}
		}
		all = append(all, t)
	}
	return out, all
}

// seenPoint carries a match on the plane to the picture.
func seenPoint(p *Photo, s grain.Seen) dots.Dot {
	const h = 0.5 // mm
	place := p.Raster.Window.Place
	at, beside := place(s.At.X, s.At.Y), place(s.At.X+h, s.At.Y+h)
	scale := math.Hypot(beside.X-at.X, beside.Y-at.Y) / (h * math.Sqrt2) // px/mm
	return dots.Dot{Pixel: at, U: s.U * scale, Point: s.At, RadiusMM: 1}
}
