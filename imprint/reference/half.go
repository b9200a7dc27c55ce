package reference

import (
	"image"
	"slices"

	"sitspan/imprint/internal/blocks"
)

// coarseSide is the longer side in px from which half a picture is enough to look for graduations in: four
// times as many pixels make them no easier to find. A picture is that of a metre where a millimetre has no
// more than 2.8 px of the half.
const coarseSide = 2800

// coarseOffsets are how far from a straight edge they are looked for there, px. Strokes of 2.2 mm, the
// shortest on steel rules, are met from 8 px of the whole picture a millimetre on, as far out as by
// stripOffsets in the whole (common practice, no source).
var coarseOffsets = []float64{-22, -13, -4, 4, 13, 22}

// halved is the picture with half its sides, and the field in it.
func (f *field) halved(img *image.Gray) (*image.Gray, *field) {
	w, h := img.Rect.Dx(), img.Rect.Dy()
	half := &image.Gray{Pix: blocks.Halved(img.Pix, img.Stride, w, h), Stride: w / 2,
		Rect: image.Rect(0, 0, w/2, h/2)}
	c := *f
	c.scale /= 2
	return half, &c
}

// doubled is the strip in a picture with sides twice as long.
func (s strip) doubled() strip {
	s.ox, s.oy = 2*s.ox+0.5, 2*s.oy+0.5
	s.from, s.to = 2*s.from, 2*s.to
	s.at, s.frequency = slices.Clone(s.at), slices.Clone(s.frequency)
	for i := range s.at {
		s.at[i], s.frequency[i] = 2*s.at[i], s.frequency[i]/2
	}
	return s
}

// agreeing is the rule as the whole picture shows it; nil where its graduation's period is not the half's.
func agreeing(half, whole *Rule) *Rule {
	if whole == nil || whole.Period != half.Period {
		return nil
	}
	return whole
}
