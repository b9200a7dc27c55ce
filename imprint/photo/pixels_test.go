package photo

import (
	"crypto/sha256"
	"image"
	"image/color"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// The hash is of the bytes given, name and limits apart.
func TestSHA256IsOfTheFile(t *testing.T) {
	data := pngFile(t, sample().grey(8))
	p, err := Decode(data, "a.png", Limits{})
	require.NoError(t, err)
	assert.Equal(t, sha256.Sum256(data), p.SHA256)
	assert.Equal(t, "a.png", p.Name)
}

// Luma of colours. Source: ITU-R BT.601, Y = 0.299 R + 0.587 G + 0.114 B; the
// tolerance is one step of an 8 bit value.
func TestGreyOfColours(t *testing.T) {
	for _, c := range []color.RGBA{{255, 0, 0, 255}, {0, 255, 0, 255}, {0, 0, 255, 255}, {10, 200, 90, 255},
		{255, 255, 255, 255}} {
		m := image.NewRGBA(image.Rect(0, 0, 16, 16))
		for i := range m.Pix {
			m.Pix[i] = []byte{c.R, c.G, c.B, c.A}[i%4]
		}
		want := 0.299*float64(c.R) + 0.587*float64(c.G) + 0.114*float64(c.B)
		for _, data := range [][]byte{pngFile(t, m), jpegFile(t, m)} {
			p, err := Decode(data, "a", Limits{})
			require.NoError(t, err)
			assert.InDelta(t, want, p.Grey().GrayAt(8, 8).Y, 1)
		}
	}
}

// Colour keeps colours, also where chroma is stored on a coarser grid than the
// reduced picture's. Tolerance: YCbCr rounds three values to 8 bits, and blue
// is 1.772 of a rounded chroma (BT.601), so 3 steps at most.
func TestColourOfAJPEG(t *testing.T) {
	c := color.RGBA{200, 60, 30, 255}
	m := image.NewRGBA(image.Rect(0, 0, 33, 17))
	for i := range m.Pix {
		m.Pix[i] = []byte{c.R, c.G, c.B, c.A}[i%4]
	}
	p, err := Decode(jpegFile(t, m), "a", Limits{})
	require.NoError(t, err)
	for _, side := range []int{1, 5, 17, 32, 33, 1000} {
		reduced := p.Colour(side)
		assert.Equal(t, min(side, 33), reduced.Rect.Dx())
		got := reduced.NRGBAAt(reduced.Rect.Dx()-1, reduced.Rect.Dy()-1)
		assert.InDelta(t, c.R, got.R, 3)
		assert.InDelta(t, c.G, got.G, 3)
		assert.InDelta(t, c.B, got.B, 3)
	}
}

// Reducing averages: the mean of the picture stays, to the rounding of each
// pixel, and a step stays where it was.
func TestReduceAverages(t *testing.T) {
	s := samples{pix: make([]byte, 12*9), step: 1, stride: 12, w: 12, h: 9}
	for i := range s.pix {
		s.pix[i] = byte(20 * (i % 12))
	}
	assert.Equal(t, []byte{30, 110, 190, 30, 110, 190, 30, 110, 190}, s.reduce(3, 3),
		"means of 0..60, 80..140, 160..220")
	assert.Equal(t, s.pix, s.reduce(12, 9))
	assert.Equal(t, []byte{110}, s.reduce(1, 1))
}

// What is transparent is paper: white.
func TestTransparentIsWhite(t *testing.T) {
	m := image.NewNRGBA(image.Rect(0, 0, 4, 4))
	m.SetNRGBA(0, 0, color.NRGBA{0, 0, 0, 255})
	p, err := Decode(pngFile(t, m), "a.png", Limits{})
	require.NoError(t, err)
	g := p.Grey()
	assert.Equal(t, []byte{0, 255}, []byte{g.GrayAt(0, 0).Y, g.GrayAt(1, 0).Y})
	assert.Equal(t, color.NRGBA{255, 255, 255, 255}, p.Colour(4).NRGBAAt(3, 3))
}

// Each picture is the caller's own: writing on it changes nothing here.
// Studio swing. Source: ITU-R BT.601: black 16, white 235, chroma 16 to 240
// about 128.
func TestFullSwing(t *testing.T) {
	m := &image.YCbCr{Y: []byte{0, 16, 126, 235, 255}, Cb: []byte{16, 128, 240}, Cr: []byte{16, 128, 240}}
	fullSwing(m)
	assert.Equal(t, []byte{0, 0, 128, 255, 255}, m.Y)
	assert.Equal(t, []byte{1, 128, 255}, m.Cb, "128 - 127.5 rounds to 1, 128 + 127.5 is clamped")
	assert.Equal(t, m.Cb, m.Cr)
}
