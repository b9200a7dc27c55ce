package report

import (
	"bytes"
	"image"
	"image/color"
	"image/draw"
	"image/jpeg"
	_ "image/png" // overlays of either kind are read
	"io"
	"os"

	"sitspan/cmd/sitspan/internal/words"

	"codeberg.org/go-pdf/fpdf"
	"github.com/disintegration/imaging"
)

// maxPictureMP bounds a picture before it is decoded, in millions of pixels.
const maxPictureMP = 60

// LoadOverlay reads a picture for the sheet, PNG or JPEG; its EXIF, a place
// where it was taken among it, does not get any further.
func LoadOverlay(path string) (image.Image, error) {
	f, err := os.Open(path)
	if err != nil {
		return nil, words.Fault("error.picture", words.Values{"why": err})
	}
	defer f.Close()
	size, _, err := image.DecodeConfig(f)
	if err != nil {
		return nil, words.Fault("error.picture.kind", words.Values{"path": path})
	}
	if size.Width*size.Height > maxPictureMP*1_000_000 {
		return nil, words.Fault("error.picture.size", words.Values{
			"path": path, "w": size.Width, "h": size.Height, "most": maxPictureMP,
		})
	}
	if _, err := f.Seek(0, io.SeekStart); err != nil {
		return nil, words.Fault("error.picture", words.Values{"why": err})
	}
	picture, _, err := image.Decode(f)
	if err != nil {
		return nil, words.Fault("error.picture.unread", words.Values{"path": path, "why": err})
	}
	return picture, nil
}

// picture is a photo as it goes into the sheet: pixels alone.
type picture struct {
	name   string // within the document
	jpeg   []byte
	aspect float64 // width / height
}

// A picture's longer side in the sheet, in px: 300 dpi on 100 mm.
const pictureSide = 1300

// newPicture takes the photo out of an overlay, which has a strip of words
// below it, and makes it small enough for a page. aspect is the photo's width /
// height, 0 where it is not known.
func newPicture(img image.Image, aspect float64) (*picture, error) {
	size := img.Bounds().Size()
	if size.X < 1 || size.Y < 1 {
		return nil, words.Fault("error.picture.empty", nil)
	}
	img = onWhite(img)
	if h := int(float64(size.X) / aspect); aspect > 0 && h >= 1 && h < size.Y {
		size.Y = h
		img = imaging.Crop(img, image.Rectangle{Max: size})
	}
	img = imaging.Fit(img, pictureSide, pictureSide, imaging.Lanczos)
	var buf bytes.Buffer
	if err := jpeg.Encode(&buf, img, &jpeg.Options{Quality: 88}); err != nil {
		return nil, words.Fault("error.picture", words.Values{"why": err})
	}
	return &picture{"overlay", buf.Bytes(), float64(size.X) / float64(size.Y)}, nil
}

// onWhite lays a picture that may be transparent on white.
func onWhite(img image.Image) image.Image {
	out := image.NewNRGBA(image.Rectangle{Max: img.Bounds().Size()})
	draw.Draw(out, out.Bounds(), image.NewUniform(color.White), image.Point{}, draw.Src)
	draw.Draw(out, out.Bounds(), img, img.Bounds().Min, draw.Over)
	return out
}

// within is the largest size in mm that fits into w x h.
func (p *picture) within(w, h float64) (float64, float64) {
	if w/h > p.aspect {
		return h * p.aspect, h
	}
	return w, w / p.aspect
}

// draw puts the picture on the page.
func (p *picture) draw(c canvas, x, y, w, h float64) {
	if c.doc == nil {
		return
	}
	c.doc.RegisterImageOptionsReader(p.name, fpdf.ImageOptions{ImageType: "JPEG"}, bytes.NewReader(p.jpeg))
	c.doc.ImageOptions(p.name, x, y, w, h, false, fpdf.ImageOptions{}, 0, "")
}
