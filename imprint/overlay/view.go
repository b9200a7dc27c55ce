package overlay

import (
	"image"
	"image/color"
	"math"
)

// view is a scene on a canvas.
type view struct {
	*canvas
	scene *Scene
	clean *image.NRGBA    // the photo without a drawing, as large as on the canvas
	photo image.Rectangle // where the photo lies on the canvas
	scale float64         // px of the canvas per px of the original
	unit  float64         // px; a 400th of the canvas's width, a phone's pixel
	em    float64         // px; the size of plain words
}

// at is where the canvas shows a point of the original.
func (v *view) at(px [2]float64) point {
	return point{(px[0]+0.5)*v.scale - 0.5, (px[1]+0.5)*v.scale - 0.5}
}

// onPlane is where the canvas shows a point of the frame's plane, in mm; ok is
// false where the picture cannot show it (past the horizon).
func (v *view) onPlane(mm [2]float64) (p point, ok bool) {
	px := v.scene.Plane(mm)
	return v.at(px), usable(px)
}

// pxPerMM is the scale of the canvas at a point of the plane, the mean of both
// directions; 0 where there is no plane.
func (v *view) pxPerMM(mm [2]float64) float64 {
	if v.scene.Plane == nil {
		return 0
	}
	c, ok0 := v.onPlane(mm)
	x, ok1 := v.onPlane([2]float64{mm[0] + 1, mm[1]})
	y, ok2 := v.onPlane([2]float64{mm[0], mm[1] + 1})
	if !ok0 || !ok1 || !ok2 {
		return 0
	}
	return (c.distance(x) + c.distance(y)) / 2
}

// hair is half the width in px of the thinnest line, 1 px wide at least.
func (v *view) hair() float64 { return math.Max(0.5, 0.38*v.unit) }

// cased draws shapes twice: wider and dark, then in their colour. shapes adds
// them with lines of half the width given.
func (v *view) cased(ink color.NRGBA, half float64, shapes func(half float64)) {
	shapes(half + math.Max(0.8, 0.35*v.unit))
	v.ink(faded(dark, 0.8))
	shapes(half)
	v.ink(ink)
}

// centres are the centres found, with left first.
func (s *Scene) centres() (found []*Centre) {
	for _, c := range []*Centre{s.Left, s.Right} {
		if c != nil {
			found = append(found, c)
		}
	}
	return found
}

// mostRejected is how many rejected places are shown: with more the picture
// says nothing any longer.
const mostRejected = 12

// shown are the rejected places that are drawn and explained.
func (s *Scene) shown() []Rejected { return s.Rejected[:min(len(s.Rejected), mostRejected)] }
