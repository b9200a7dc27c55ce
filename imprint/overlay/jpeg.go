package overlay

import (
	"errors"
	"image"
	"image/jpeg"
	"io"

	"sitspan/imprint/internal/native"
)

// jpegQuality keeps hair-thin lines clean.
const jpegQuality = 88

// longestJPEG is the largest side of a JPEG in px (ITU-T T.81, table B.2: 16
// bits).
const longestJPEG = 65535

// EncodeJPEG writes a picture as JPEG, which holds the pixels and nothing else:
// no EXIF, no comment, no profile.
func EncodeJPEG(w io.Writer, img image.Image) error { return EncodeJPEGAt(w, img, jpegQuality) }

// EncodeJPEGAt does so at a quality of 1 to 100.
func EncodeJPEGAt(w io.Writer, img image.Image, quality int) error {
	if img == nil || img.Bounds().Empty() {
		return errors.New("overlay: no picture to write")
	}
	if b := img.Bounds(); max(b.Dx(), b.Dy()) > longestJPEG {
		return errors.New("overlay: the picture is too large for a JPEG, at most 65535 px a side are needed; use " +
			"a smaller one")
	}
	if n, ok := img.(*image.NRGBA); ok && n.Opaque() {
		// The same bytes mean the same where nothing is transparent, and the
		// encoder is fast on this type only.
		img = &image.RGBA{Pix: n.Pix, Stride: n.Stride, Rect: n.Rect}
	}
	if m, ok := img.(*image.RGBA); ok {
		if file := native.EncodeJPEG(m, quality); file != nil {
			_, err := w.Write(file)
			return err
		}
	}
	return jpeg.Encode(w, img, &jpeg.Options{Quality: quality})
}
