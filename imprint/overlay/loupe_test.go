package overlay

import (
	"image"
	"image/color"
	"math"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// loupeView is the bench scene's view with a canvas for a loupe alone.
func loupeView(s *Scene) *view {
	return &view{
		canvas: newCanvas(1200, 450, dark), scene: s, clean: s.Photo,
		photo: s.Photo.Rect, scale: s.Scale, unit: 3, em: 40,
	}
}

func TestLoupeEnlargesAboutTheCentre(t *testing.T) {
	s := bench(even(1200, 900, color.NRGBA{120, 130, 110, 255}))
	s.Left.Label = ""
	v := loupeView(&s)
	l, ok := v.loupeAt(s.Left)
	require.True(t, ok)
	assert.Equal(t, 208, l.crop.Dx(), "26 mm to either side at 4 px/mm")
	assert.InDelta(t, 360, float64(l.crop.Min.X+l.crop.Max.X-1)/2, 1, "about the centre")
	frame := image.Rect(40, 20, 40+3*208, 20+3*l.crop.Dy()) // three times as large
	l.draw(frame, lettersOf(false, 34))

	at := func(px [2]float64) (x, y int) {
		return 40 + 3*(int(px[0])-l.crop.Min.X) + 1, 20 + 3*(int(px[1])-l.crop.Min.Y) + 1
	}
	x, y := at(s.Left.Px)
	assert.Equal(t, amber, v.img.NRGBAAt(x, y), "the point itself")
	assert.NotEqual(t, amber, v.img.NRGBAAt(x+8, y), "the cross is open in the middle")
	assert.Equal(t, amber, v.img.NRGBAAt(x+3*32, y), "the ellipse's vertex, 8 mm to the right")
	assert.Equal(t, amber, v.img.NRGBAAt(x, y-3*16), "the ellipse's vertex, 4 mm up")
	assert.Equal(t, dark, v.img.NRGBAAt(frame.Max.X, y), "nothing beyond its frame")

	// The bar of 10 mm is 120 px long: the longest run of light on a row.
	longest := 0
	for y := frame.Min.Y; y < frame.Max.Y; y++ {
		run := 0
		for x := frame.Min.X; x < frame.Max.X; x++ {
			if v.img.NRGBAAt(x, y) != light {
				run = 0
				continue
			}
			run++
			longest = max(longest, run)
		}
	}
	assert.InDelta(t, 120, longest, 4, "round ends add a line's width")
}

// At the picture's edge the loupe shows what there is.
func TestLoupeAtTheEdge(t *testing.T) {
	s := bench(even(1200, 900, color.NRGBA{120, 130, 110, 255}))
	s.Left.Px, s.Left.PlaneMM = [2]float64{0, 0}, [2]float64{-150, -112.5}
	v := loupeView(&s)
	l, ok := v.loupeAt(s.Left)
	require.True(t, ok)
	l.draw(image.Rect(0, 0, 416, 256), lettersOf(false, 34))
	assert.Equal(t, dark, v.img.NRGBAAt(10, 200), "beyond the photo")
	assert.NotEqual(t, dark, v.img.NRGBAAt(300, 160), "the photo")
}

func TestNoLoupeWithoutScaleOrPhoto(t *testing.T) {
	s := bench(even(1200, 900, light))
	off := *s.Left
	off.Px = [2]float64{-20, 450}
	_, ok := loupeView(&s).loupeAt(&off)
	assert.False(t, ok, "off the photo")
	s.Plane = nil
	_, ok = loupeView(&s).loupeAt(s.Left)
	assert.False(t, ok, "no plane")
	tiny := bench(even(12, 9, light))
	tiny.Scale = 0.01
	_, ok = loupeView(&tiny).loupeAt(tiny.Left)
	assert.False(t, ok, "2 px would be enlarged")
}

// Contrast is raised at most loupeGain times, keeps order and colour, and
// leaves a picture alone that has contrast enough.
func TestRaiseContrast(t *testing.T) {
	ramp := func(from, step int) *image.NRGBA {
		img := image.NewNRGBA(image.Rect(0, 0, 20, 20))
		for i := range 400 {
			v := uint8(from + step*(i%20))
			img.SetNRGBA(i%20, i/20, color.NRGBA{v + 8, v, v - 8, 255})
		}
		return img
	}
	soft := ramp(100, 1)
	raiseContrast(soft)
	first, last := soft.NRGBAAt(0, 0), soft.NRGBAAt(19, 0)
	assert.InDelta(t, 4*19, float64(last.G)-float64(first.G), 2) // 2: each end is cut to whole levels
	for x := range 20 {
		p := soft.NRGBAAt(x, 3)
		assert.Equal(t, []uint8{p.G + 8, p.G - 8}, []uint8{p.R, p.B}, "colour is kept")
	}
	hard := ramp(20, 11)
	before := append([]uint8(nil), hard.Pix...)
	raiseContrast(hard)
	assert.Equal(t, before, hard.Pix)

	one := even(1, 1, color.NRGBA{250, 3, 7, 255})
	raiseContrast(one)
	assert.Equal(t, uint8(255), one.NRGBAAt(0, 0).A)
	assert.False(t, math.IsNaN(brightness(one.NRGBAAt(0, 0))))
}
