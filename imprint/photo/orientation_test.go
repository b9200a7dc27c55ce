package photo

import (
	"fmt"
	"image"
	"image/color"
	"os"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"
)

// forms are the formats whose EXIF orientation is obeyed, each as a file that
// holds b, stored with an orientation, with that orientation's tag.
var forms = []struct {
	name   string
	format Format
	file   func(t testing.TB, stored blocks, orientation int) []byte
}{
	{"JPEG grey", JPEG, func(t testing.TB, b blocks, o int) []byte {
		return jpegFile(t, b.grey(blockWidth), exifSegment(orientationBlock(o)))
	}},
	{"JPEG colour", JPEG, func(t testing.TB, b blocks, o int) []byte {
		return jpegFile(t, inRGBA(b.grey(blockWidth)), exifSegment(cameraBlock(o, 240, 160)))
	}},
	{"JPEG with JFIF, fill bytes and XMP first", JPEG, func(t testing.TB, b blocks, o int) []byte {
		return jpegFile(t, b.grey(blockWidth), jfifSegment(0, 1, 1), []byte{0xff, 0xff},
			segment(0xe1, []byte("http://ns.adobe.com/xap/1.0/\x00<x/>")), exifSegment(orientationBlock(o)))
	}},
	{"PNG grey", PNG, func(t testing.TB, b blocks, o int) []byte {
		return pngFile(t, b.grey(blockWidth), chunk("eXIf", orientationBlock(o)))
	}},
	{"PNG 16 bit grey", PNG, func(t testing.TB, b blocks, o int) []byte {
		return pngFile(t, inGray16(b.grey(blockWidth)), chunk("eXIf", orientationBlock(o)))
	}},
	{"PNG colour", PNG, func(t testing.TB, b blocks, o int) []byte {
		return pngFile(t, inRGBA(b.grey(blockWidth)), chunk("eXIf", orientationBlock(o)))
	}},
	{"PNG palette", PNG, func(t testing.TB, b blocks, o int) []byte {
		return pngFile(t, inPalette(b.grey(blockWidth)), chunk("eXIf", orientationBlock(o)))
	}},
	{"TIFF", TIFF, func(t testing.TB, b blocks, o int) []byte {
		return tiffFile(b.grey(blockWidth), tag{0x0112, uint16(o)})
	}},
}

func inRGBA(g *image.Gray) image.Image {
	m := image.NewRGBA(g.Rect)
	for i, v := range g.Pix {
		copy(m.Pix[4*i:], []byte{v, v, v, 255})
	}
	return m
}

func inGray16(g *image.Gray) image.Image {
	m := image.NewGray16(g.Rect)
	for i, v := range g.Pix {
		m.Pix[2*i], m.Pix[2*i+1] = v, 0x7f
	}
	return m
}

func inPalette(g *image.Gray) image.Image {
	var greys color.Palette
	for v := range 256 {
		greys = append(greys, color.Gray{Y: byte(v)})
	}
	return &image.Paletted{Pix: g.Pix, Stride: g.Stride, Rect: g.Rect, Palette: greys}
}

// The same picture, stored in each of the eight ways, comes out the same.
func TestEveryOrientationComesOutUpright(t *testing.T) {
	for _, f := range forms {
		for o := 1; o <= 8; o++ {
			t.Run(fmt.Sprint(f.name, " ", o), func(t *testing.T) {
				p, err := Decode(f.file(t, sample().stored(o), o), "a.bin", Limits{})
				require.NoError(t, err)
				assert.Equal(t, f.format, p.Format)
				assert.Equal(t, o, p.Orientation)
				requireBlocks(t, sample(), p, blockWidth)
			})
		}
	}
}

// testdata's WebP files hold the sample as it is, so a tag turns it.
func TestWebPObeysTheOrientation(t *testing.T) {
	for _, name := range []string{"lossy.webp", "lossless.webp"} {
		simple, err := os.ReadFile("testdata/" + name)
		require.NoError(t, err)
		for o := 1; o <= 8; o++ {
			t.Run(fmt.Sprint(name, " ", o), func(t *testing.T) {
				p, err := Decode(webpFile(simple, 240, 160, orientationBlock(o)), "a.bin", Limits{})
				require.NoError(t, err)
				assert.Equal(t, WebP, p.Format)
				assert.Equal(t, o, p.Orientation)
				requireBlocks(t, sample().upright(o), p, blockWidth)
			})
		}
	}
}

// An orientation outside 1 to 8 means nothing.
func TestNonsenseOrientationIsNone(t *testing.T) {
	for _, o := range []int{0, 9, 65535} {
		p, err := Decode(jpegFile(t, sample().grey(8), exifSegment(orientationBlock(o))), "a.jpg", Limits{})
		require.NoError(t, err)
		assert.Equal(t, 1, p.Orientation)
	}
}

// Every pixel of a picture of any size lands where the table of sides says;
// this also holds the pixel convention: (0, 0) is the top-left pixel.
func TestTurnPlanePixelByPixel(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		w, h := rapid.IntRange(1, 140).Draw(t, "w"), rapid.IntRange(1, 140).Draw(t, "h")
		stride := w + rapid.IntRange(0, 20).Draw(t, "padding")
		o := rapid.IntRange(1, 8).Draw(t, "orientation")
		plane := rapid.SliceOfN(rapid.Byte(), stride*h, stride*h).Draw(t, "plane")
		upright := image.NewGray(image.Rect(0, 0, w, h))
		if swapsAxes(o) {
			upright = image.NewGray(image.Rect(0, 0, h, w))
		}
		turnPlane(upright, plane, stride, w, h, o)
		for row := range h {
			for column := range w {
				x, y := seenAt(o, row, column, upright.Rect.Dx(), upright.Rect.Dy())
				require.Equal(t, plane[row*stride+column], upright.GrayAt(x, y).Y)
			}
		}
	})
}

// Turning twice is turning by the composition.
func TestThenComposes(t *testing.T) {
	for first := 1; first <= 8; first++ {
		for second := 1; second <= 8; second++ {
			want := sample().upright(first).upright(second)
			assert.Equal(t, want, sample().upright(then(first, second)), "%d then %d", first, second)
		}
	}
}
