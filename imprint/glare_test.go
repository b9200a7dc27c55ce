package imprint

import (
	"context"
	"image"
	"image/color"
	"math"
	"testing"

	"github.com/disintegration/imaging"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"sitspan/calibration"
	"sitspan/imprint/photo"
)

// burnOut paints a white disc of a radius in mm round a place of the picture.
func burnOut(img image.Image, px [2]float64, radius, mmPerPx float64) image.Image {
	out := imaging.Clone(img)
	r := radius / mmPerPx
	for y := int(px[1] - r); y <= int(px[1]+r); y++ {
		for x := int(px[0] - r); x <= int(px[0]+r); x++ {
			if math.Hypot(float64(x)-px[0], float64(y)-px[1]) <= r {
				out.Set(x, y, color.White)
			}
		}
	}
	return out
}

// A patch that hides one dent, or one mark of ink, is glare; nothing is read beside it. One that hides no
// bottom is not.
func TestGlareOverOneDentOrMark(t *testing.T) {
	m := meter(t)
	for _, c := range []struct {
		name   string
		medium calibration.Medium
	}{{"foam-window.jpg", calibration.Foam}, {"paper-1.jpg", calibration.Paper}} {
		s := Settings{Medium: c.medium}
		sound, err := m.Measure(context.Background(), read(t, c.name), s)
		require.NoError(t, err)
		require.NotNil(t, sound.Left, c.name)
		at := [2]float64{sound.Left.Pixel.X, sound.Left.Pixel.Y}
		img := read(t, c.name).Colour(1 << 14)
		for _, radius := range []float64{6, 16} {
			got, err := m.Measure(
				context.Background(),
				encode(t, burnOut(img, at, radius, sound.GroundSample)),
				s,
			)
			require.NoError(t, err)
			if radius < 10 {
				assert.NotContains(t, codesOf(got), "glare", "%s, %.0f mm", c.name, radius)
				continue
			}
			require.Equal(t, Refused, got.Status, c.name)
			assert.Equal(t, "glare", got.Reasons[0].Code, "%s: %v", c.name, codesOf(got))
		}
	}
}

// What a gleam is on a photo of a sheet is a whiter patch on a scan of it.
func TestAScanHasNoGlare(t *testing.T) {
	m := meter(t)
	const dpi = 150
	sheet := frameOnEvenPad(t)
	middle := [2]float64{float64(sheet.Bounds().Dx()) / 2, float64(sheet.Bounds().Dy()) / 2}
	p := encode(t, burnOut(sheet, middle, 30, 25.4/dpi))
	for _, density := range []*photo.Density{nil, {X: dpi / 25.4, Y: dpi / 25.4, Source: "test"}} {
		p.Density = density
		got, err := m.Measure(context.Background(), p, Settings{Medium: calibration.Paper})
		require.NoError(t, err)
		require.NotEmpty(t, got.Reasons)
		require.Equal(t, 12, got.Marks)
		assert.Equal(t, density == nil, got.Reasons[0].Code == "glare", "%v", codesOf(got))
	}
}
