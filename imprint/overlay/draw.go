package overlay

import (
	"fmt"
	"image"
	"math"

	"github.com/disintegration/imaging"
)

// narrowest is the least width in px of an overlay, so that words have room
// beside or under a tiny photo.
const narrowest = 480

// slimmest is the least width of an overlay for the height of its photo: under
// a slim, tall photo words would be too small to read.
const slimmest = 0.4

// emsAcross is the overlay's width in units of its plain words' size: 13 px on
// a phone that shows it 400 px wide.
const emsAcross = 30

// Draw returns the photo with the scene on it and a strip of words under it,
// opaque. The photo's longer side becomes maxSide px at most (it is never
// enlarged), its top-left corner is the overlay's; the strip comes on top of
// maxSide. The error tells in one line what of the scene cannot be drawn:
// no photo, or coordinates that are no numbers.
func Draw(s Scene, maxSide int) (*image.NRGBA, error) {
	if maxSide < 1 {
		return nil, fmt.Errorf("overlay: a longer side of %d px, but 1 at least is needed", maxSide)
	}
	if err := s.check(); err != nil {
		return nil, err
	}
	clean := fitted(s.Photo, maxSide)
	w, h := clean.Rect.Dx(), clean.Rect.Dy()
	width := max(w, narrowest, int(slimmest*float64(h)))
	v := &view{
		scene: &s, clean: clean, photo: clean.Rect,
		scale: s.Scale * float64(max(w, h)) / float64(max(s.Photo.Rect.Dx(), s.Photo.Rect.Dy())),
		unit:  float64(width) / 400, em: float64(width) / emsAcross,
	}
	blocks := v.strip(float64(width))
	height := float64(h)
	for _, b := range blocks {
		height += b.height
	}
	v.canvas = newCanvas(width, int(math.Ceil(height)), dark)
	v.lay(clean, image.Point{}, clean.Rect)
	v.figure()
	top := float64(h)
	for _, b := range blocks {
		b.draw(top)
		top += b.height
	}
	return v.img, nil
}

// fitted is a picture, reduced to a longer side of maxSide px at most,
// opaque, with its corner at (0, 0): itself where it is so already.
func fitted(photo *image.NRGBA, maxSide int) *image.NRGBA {
	size := photo.Rect.Size()
	if photo.Rect.Min == (image.Point{}) && max(size.X, size.Y) <= maxSide && photo.Opaque() {
		return photo
	}
	out := imaging.Clone(photo)
	if max(photo.Rect.Dx(), photo.Rect.Dy()) > maxSide {
		out = imaging.Fit(photo, maxSide, maxSide, imaging.Box)
	}
	for i := 3; i < len(out.Pix); i += 4 {
		out.Pix[i] = 255
	}
	return out
}
