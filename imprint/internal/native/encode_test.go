//go:build linux && cgo

package native

import (
	"bytes"
	"image"
	"image/color"
	"image/jpeg"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// A part of a picture is written as it is seen, whatever its sides.
func TestEncodedPicturesAreReadBack(t *testing.T) {
	whole := image.NewRGBA(image.Rect(0, 0, 90, 70))
	for i := range whole.Pix {
		x, y := i/4%90, i/360
		whole.Pix[i] = [4]uint8{uint8(20 + x), uint8(30 + x/2 + y), uint8(200 - x - y), 7}[i%4]
	}
	for _, r := range []image.Rectangle{whole.Rect, image.Rect(7, 5, 8, 6), image.Rect(1, 2, 78, 35)} {
		part := whole.SubImage(r).(*image.RGBA)
		file := EncodeJPEG(part, 95)
		require.NotNil(t, file)
		back, err := jpeg.Decode(bytes.NewReader(file))
		require.NoError(t, err)
		require.Equal(t, r.Size(), back.Bounds().Size())
		for y := range r.Dy() {
			for x := range r.Dx() {
				got := color.RGBAModel.Convert(back.At(x, y)).(color.RGBA)
				want := part.RGBAAt(r.Min.X+x, r.Min.Y+y)
				assert.InDelta(t, want.R, got.R, 8)
				assert.InDelta(t, want.G, got.G, 8)
				assert.InDelta(t, want.B, got.B, 8)
			}
		}
	}
}

// What cannot be a JPEG, or is no whole picture, is not written.
func TestEncodingRefuses(t *testing.T) {
	assert.Nil(t, EncodeJPEG(&image.RGBA{}, 90), "no pixels")
	assert.Nil(t, EncodeJPEG(image.NewRGBA(image.Rect(0, 0, 65536, 1)), 90))
	short := image.NewRGBA(image.Rect(0, 0, 20, 20))
	short.Pix = short.Pix[:1599]
	assert.Nil(t, EncodeJPEG(short, 90))
	narrow := image.NewRGBA(image.Rect(0, 0, 20, 20))
	narrow.Stride = 76
	assert.Nil(t, EncodeJPEG(narrow, 90), "rows that overlap")
}
