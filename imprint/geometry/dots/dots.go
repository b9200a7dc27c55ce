package dots

import (
	"image"
	"math"
	"slices"

	"sitspan/imprint/geometry/raster"
)

// Pixel is a point of the upright picture in px; integers are pixel centres.
type Pixel = raster.Pixel

// Point is a point of the frame's plane in mm, y down.
type Point = raster.Point

// Dot is a spot as one photo shows it.
type Dot struct {
	Pixel    Pixel   // its centre
	U        float64 // standard uncertainty of either coordinate of the centre, px
	Point    Point   // where the line of sight to its centre meets the frame's plane, mm
	RadiusMM float64 // as seen on the frame's plane
	Contrast float64 // ln of its brightness over its surroundings': negative for dark dots
}

// What a felt pen draws, with room for the narrowing that depth and distance bring, and what is found beside
// it.
const (
	leastRadius   = 0.55 // mm
	mostRadius    = 2.2  // mm
	leastContrast = 0.05 // |ln| of a dot's brightness over its surroundings'
	edge          = 1.5  // mm that a dot's rim keeps from the window's edge, where the card hides or shades it
	mostDots      = 1500 // beyond, it is texture; the clearest are kept
)

// Find returns the dots in a photo's window, which r shows, those of the polarity (dark or light) that most
// have, in no set order.
func Find(grey *image.Gray, r *raster.Raster) []Dot {
	var found []Dot
	fit := func(spots []spot) {
		for _, s := range spots {
			if d, ok := fitDot(grey, r.Window, s); ok {
				found = append(found, d)
			}
		}
	}
	spots := spotsOf(r)
	first := min(len(spots), tellPolarity)
	fit(spots[:first])
	dark := mostlyDark(found)
	fit(slices.DeleteFunc(spots[first:], func(s spot) bool { return (s.response > 0) != dark }))
	return apart(samePolarity(found))
}

// tellPolarity is how many of the clearest spots are fitted to tell a pen's polarity. Of 4,500 spots in three
// photos 3,252 were of the other, and one of them passed for a dot; their fits took two thirds of the time.
const tellPolarity = 300

func mostlyDark(all []Dot) bool {
	dark := 0
	for _, d := range all {
		if d.Contrast < 0 {
			dark++
		}
	}
	return 2*dark >= len(all)
}

// samePolarity keeps the dots of the more frequent sign of contrast: a pen has one colour.
func samePolarity(all []Dot) []Dot {
	dark := mostlyDark(all)
	return slices.DeleteFunc(all, func(d Dot) bool { return (d.Contrast < 0) != dark })
}

// apart drops a spot that was found twice, at two sizes: of two whose centres lie within the larger's radius
// the one of the stronger contrast stays.
func apart(all []Dot) []Dot {
	slices.SortFunc(all, func(a, b Dot) int {
		switch x, y := math.Abs(a.Contrast), math.Abs(b.Contrast); {
		case x > y:
			return -1
		case x < y:
			return 1
		}
		return 0
	})
	var kept []Dot
	for _, d := range all {
		if !slices.ContainsFunc(kept, func(k Dot) bool {
			return math.Hypot(k.Point.X-d.Point.X, k.Point.Y-d.Point.Y) < math.Max(k.RadiusMM, d.RadiusMM)
		}) {
			kept = append(kept, d)
		}
	}
	return kept
}
