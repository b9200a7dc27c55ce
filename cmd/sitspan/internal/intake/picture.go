package intake

import (
	"image"
	"image/color"
	imagedraw "image/draw"
	"math"

	"golang.org/x/image/vector"

	"sitspan/cmd/sitspan/internal/words"
	"sitspan/imprint/homography"
	"sitspan/imprint/photo"
)

// What an overlay is drawn as: sharp on a phone, and some 300 kB.
const (
	OverlaySide    = 1800 // px, the longer side
	OverlayQuality = 88   // JPEG
)

// Picture is the upright photo without anything drawn on it, the longer side at most maxSide px, the
// faces of cards painted over. It fails where there is no photo.
func (o Outcome) Picture(maxSide int) (image.Image, error) {
	if o.photo == nil {
		return nil, words.Fault("error.no_picture", nil)
	}
	return o.colour(maxSide), nil
}

// Photo is what was read, nil where nothing could be. Whoever writes its pixels asks Covers first.
func (o Outcome) Photo() *photo.Photo { return o.photo }

// LookForCards masks the face of a card that lies beside what gave the scale. It takes a second.
func (o Outcome) LookForCards() {
	if o.made != nil && o.photo != nil {
		o.made.MaskCard(o.photo)
	}
}

// Covers says whether the picture holds something that must not be stored or shown.
func (o Outcome) Covers() bool { return o.made != nil && len(o.made.Masked) > 0 }

// colour is the photo's reduced colour picture with what is masked painted over.
func (o Outcome) colour(maxSide int) *image.NRGBA {
	picture := o.photo.Colour(maxSide)
	if o.Covers() {
		scale := float64(picture.Bounds().Dx()) / float64(o.photo.Width)
		for _, quad := range o.made.Masked {
			cover(picture, quad, scale)
		}
	}
	return picture
}

// cover paints a quadrilateral of the upright original in its own mean colour, so that nothing on it can
// be read while its edges, which the scale comes from, stay to be found.
func cover(picture *image.NRGBA, quad [4]homography.Pixel, scale float64) {
	b := picture.Bounds()
	r := vector.NewRasterizer(b.Dx(), b.Dy())
	for i, q := range quad {
		// The original's point x lies at (x + 0.5) scale - 0.5; a rasterizer's pixel begins at its own
		// number.
		x, y := float32((q.X+0.5)*scale), float32((q.Y+0.5)*scale)
		if i == 0 {
			r.MoveTo(x, y)
		} else {
			r.LineTo(x, y)
		}
	}
	r.ClosePath()
	mask := image.NewAlpha(b)
	r.Draw(mask, b, image.Opaque, image.Point{})
	imagedraw.DrawMask(picture, b, image.NewUniform(meanUnder(picture, mask)), image.Point{}, mask,
		image.Point{}, imagedraw.Over)
}

func meanUnder(picture *image.NRGBA, mask *image.Alpha) color.Color {
	var sum [3]float64
	weight := 0.0
	for i, a := range mask.Pix {
		if a == 0 {
			continue
		}
		for c := range 3 {
			sum[c] += float64(a) * float64(picture.Pix[4*i+c])
		}
		weight += float64(a)
	}
	if weight == 0 {
		return color.Black
	}
	level := func(c int) uint8 { return uint8(math.Round(sum[c] / weight)) }
	return color.NRGBA{level(0), level(1), level(2), 255}
}
