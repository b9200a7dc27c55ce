package imprint

import (
	"math"

	"sitspan/calibration"
	"sitspan/imprint/homography"
	"sitspan/imprint/photo"
	"sitspan/imprint/scale"
)

// MaskCard masks the face of a card that lies in a picture beside what gave the scale. The
// search takes a second, so whoever writes the picture asks for it. What would hide a mark of
// the frame, or lies in its window, is no card.
func (m *Measurement) MaskCard(p *photo.Photo) {
	if m.Reference != nil {
		return // its own is masked
	}
	outline, found := scale.CardIn(p)
	if !found || m.Plane != nil && covered(m.Plane, outline) {
		return
	}
	m.Masked = append(m.Masked, outline)
}

// covered tells whether a quadrilateral of the picture hides a mark or a part of the window.
func covered(p *Plane, q [4]homography.Pixel) bool {
	for _, m := range p.Marks {
		for _, c := range m.Corners {
			if inside(q, homography.Pixel(c)) {
				return true
			}
		}
	}
	if p.Fit == nil {
		return false
	}
	var mid homography.Pixel
	for _, c := range q {
		mid.X, mid.Y = mid.X+c.X/4, mid.Y+c.Y/4
	}
	at, err := p.Fit.PlaneFromImage(mid)
	w := calibration.ControlFrame.Window
	return err == nil && math.Abs(at.X) < w.Width/2 && math.Abs(at.Y) < w.Height/2
}

// inside tells whether a point lies in a convex quadrilateral, whichever way it goes round.
func inside(q [4]homography.Pixel, p homography.Pixel) bool {
	var left, right bool
	for i, a := range q {
		b := q[(i+1)%4]
		if (b.X-a.X)*(p.Y-a.Y)-(b.Y-a.Y)*(p.X-a.X) > 0 {
			left = true
		} else {
			right = true
		}
	}
	return left != right
}
