package overlay

import (
	"bytes"
	"image"
	"image/color"
	"image/jpeg"
	"math"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// segments are the marker codes of a JPEG up to its scan (ITU-T T.81, B.1.1.4:
// FF, code, two bytes of length that count themselves).
func segments(t *testing.T, data []byte) (codes []byte) {
	t.Helper()
	require.Equal(t, []byte{0xff, 0xd8}, data[:2], "SOI")
	for i := 2; ; {
		require.Equal(t, byte(0xff), data[i])
		codes = append(codes, data[i+1])
		if data[i+1] == 0xda { // SOS
			return codes
		}
		i += 2 + int(data[i+2])<<8 + int(data[i+3])
	}
}

func TestJPEGHoldsNothingButPixels(t *testing.T) {
	img := drawn(t, bench(speckled(1200, 900)), 1200)
	var out bytes.Buffer
	require.NoError(t, EncodeJPEG(&out, img))
	for _, code := range segments(t, out.Bytes()) {
		// DQT, SOF0, DHT, SOS: no APPn (E0 to EF: EXIF, profiles, thumbnails)
		// and no COM (FE) among them (ITU-T T.81, table B.1).
		assert.Contains(t, []byte{0xdb, 0xc0, 0xc4, 0xda}, code)
	}
	for _, word := range []string{"Exif", "xmp", "ICC_PROFILE", "JFIF"} {
		assert.NotContains(t, out.String(), word)
	}
	back, err := jpeg.Decode(&out)
	require.NoError(t, err)
	assert.Equal(t, img.Rect, back.Bounds())
}

// misfit is the root mean square of what a JPEG's levels are off, over the three colours.
func misfit(t *testing.T, file []byte, original *image.NRGBA) float64 {
	t.Helper()
	back, err := jpeg.Decode(bytes.NewReader(file))
	require.NoError(t, err)
	require.Equal(t, original.Rect.Size(), back.Bounds().Size())
	sum := 0.0
	for y := range original.Rect.Dy() {
		for x := range original.Rect.Dx() {
			r, g, b, _ := back.At(x, y).RGBA()
			k := original.Pix[original.PixOffset(x, y):]
			for i, v := range [3]uint32{r, g, b} {
				sum += math.Pow(float64(v>>8)-float64(k[i]), 2)
			}
		}
	}
	return math.Sqrt(sum / float64(3*original.Rect.Dx()*original.Rect.Dy()))
}

// The fast way for opaque pictures is as good as the slow one, and as large.
func TestJPEGOfOtherPictures(t *testing.T) {
	opaque := drawn(t, bench(speckled(301, 203)), 301)
	for _, quality := range []int{40, jpegQuality} {
		var fast, slow bytes.Buffer
		require.NoError(t, EncodeJPEGAt(&fast, opaque, quality))
		require.NoError(t, jpeg.Encode(&slow, struct{ image.Image }{opaque}, &jpeg.Options{Quality: quality}))
		assert.InDelta(t, misfit(t, slow.Bytes(), opaque), misfit(t, fast.Bytes(), opaque), 0.15)
		assert.InEpsilon(t, slow.Len(), fast.Len(), 0.05)
	}

	var grey bytes.Buffer
	require.NoError(t, EncodeJPEG(&grey, image.NewGray(image.Rect(3, 4, 20, 10))))
	back, err := jpeg.Decode(&grey)
	require.NoError(t, err)
	assert.Equal(t, image.Rect(0, 0, 17, 6), back.Bounds())
}

func TestJPEGRefuses(t *testing.T) {
	var out bytes.Buffer
	assert.ErrorContains(t, EncodeJPEG(&out, nil), "no picture")
	assert.ErrorContains(t, EncodeJPEG(&out, image.NewNRGBA(image.Rectangle{})), "no picture")
	assert.ErrorContains(t, EncodeJPEG(&out, image.NewUniform(color.White)), "too large")
	assert.Zero(t, out.Len())
}
