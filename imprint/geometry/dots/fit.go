package dots

import (
	"image"
	"math"

	"sitspan/imprint/geometry/raster"
)

// The fitted disc: ln brightness = level + slopes + contrast x S, with S = 1 inside and 0 outside, the edge
// being a blurred step. Parameters in the picture's px about the start.
const (
	pX = iota
	pY
	pRadius   // px, of the circle in the plane, scaled to the picture
	pBlur     // px, standard deviation of the edge
	pContrast // ln
	pLevel    // ln
	pSlopeX   // ln per px
	pSlopeY
	parameters
)

// ellipse carries an offset in the picture, px, to the plane, mm: there the dot is a circle.
type ellipse struct{ a, b, c, d, px float64 } // mm = (a b; c d) px; px is the mm that one px covers, mean

func localEllipse(w raster.Window, at Point) (ellipse, Pixel, bool) {
	const h = 0.5
	p, px, py := w.Place(at.X, at.Y), w.Place(at.X+h, at.Y), w.Place(at.X, at.Y+h)
	ax, ay, bx, by := (px.X-p.X)/h, (px.Y-p.Y)/h, (py.X-p.X)/h, (py.Y-p.Y)/h
	det := ax*by - bx*ay
	if !(math.Abs(det) > 1e-9) {
		return ellipse{}, p, false
	}
	return ellipse{by / det, -bx / det, -ay / det, ax / det, 1 / math.Sqrt(math.Abs(det))}, p, true
}

// reachRadii is how far the fit looks, in radii: far enough to see the surroundings, short of the next dot.
const reachRadii = 2.1

// leastClear is the contrast of a dot in standard deviations of what the fit leaves.
const leastClear = 2.5

// mostSamples bounds the pixels of one fit: of a picture of many megapixels every second or third line
// serves.
const mostSamples = 500

// fitDot fits a disc at a spot on the photo's own pixels.
func fitDot(grey *image.Gray, w raster.Window, s spot) (Dot, bool) {
	e, start, ok := localEllipse(w, s.at)
	if !ok {
		return Dot{}, false
	}
	radius := s.sigma * math.Sqrt2
	samples := gather(grey, e, start, reachRadii*math.Max(radius, 0.8))
	if samples == nil || len(samples.ln) < 3*parameters {
		return Dot{}, false
	}
	at := [parameters]float64{pRadius: radius / e.px, pBlur: 0.8, pContrast: -2 * s.response,
		pLevel: samples.meanLn()}
	sd, u, ok := samples.solve(&at)
	if !ok {
		return Dot{}, false
	}
	d := Dot{
		Pixel:    Pixel{X: start.X + at[pX], Y: start.Y + at[pY]},
		U:        u,
		Point:    Point{X: s.at.X + e.a*at[pX] + e.b*at[pY], Y: s.at.Y + e.c*at[pX] + e.d*at[pY]},
		RadiusMM: at[pRadius] * e.px,
		Contrast: at[pContrast],
	}
	moved := math.Hypot(d.Point.X-s.at.X, d.Point.Y-s.at.Y)
	inside := math.Abs(d.Point.X) < w.HalfWidth-edge-d.RadiusMM &&
		math.Abs(d.Point.Y) < w.HalfHeight-edge-d.RadiusMM
	good := d.RadiusMM > leastRadius && d.RadiusMM < mostRadius && math.Abs(d.Contrast) > leastContrast &&
		moved < radius && inside && math.Abs(d.Contrast) > leastClear*sd && u < 0.5*at[pRadius]
	return d, good
}
