package imprint

import (
	"context"
	"image"
	"math"
	"sort"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"sitspan/calibration"
	"sitspan/imprint/codes"
	"sitspan/imprint/homography"
	"sitspan/imprint/relief"
)

// On a photo of paper the density model reads, its budget says so, and it agrees with the net.
func TestPaperIsReadByItsDensity(t *testing.T) {
	m := meter(t)
	for _, one := range truths(t) {
		if one.Kind == "foam" {
			continue
		}
		v, err := m.look(context.Background(), read(t, one.Name), settingsFor(one))
		require.NoError(t, err)
		require.True(t, v.byInk, one.Name)
		v.conclude(Settings{Medium: calibration.Paper})
		require.NotNil(t, v.m.Spacing, one.Name)
		require.NotContains(t, codesOf(v.m), "readings_disagree", one.Name)
		said := false
		for _, c := range v.m.Spacing.Budget {
			if c.Source == codes.LeftCentre.Code {
				said = true
				assert.True(t, codes.InkDensity.Is(c.From), one.Name)
			}
		}
		require.True(t, said, one.Name)
	}
}

// A net that has put a centre 14 mm off, a size and more, is contradicted by the density, which finds the
// mark: the photo goes to review with both numbers.
func TestTheDensityContradictsAMisreadMark(t *testing.T) {
	m := meter(t)
	s := Settings{Medium: calibration.Paper}
	sound, err := m.look(context.Background(), read(t, "paper-1.jpg"), s)
	require.NoError(t, err)
	require.Equal(t, Measured, sound.m.Status)
	for _, off := range []float64{-14, 14} {
		v, err := m.look(context.Background(), read(t, "paper-1.jpg"), s)
		require.NoError(t, err)
		v.m.Status, v.m.Reasons = Measured, nil
		v.reading.Left.At.X += off
		v.reading.VarSpacing = 1
		net := v.reading.Distance()
		require.NoError(t, v.readInk(v.photo.Grey(), v.window.Frame))
		require.Equal(t, Review, v.m.Status, "%+.0f mm", off)
		r := v.m.Reasons[len(v.m.Reasons)-1]
		require.Equal(t, "readings_disagree", r.Code)
		assert.InDelta(t, net, r.Params["net"], 1e-9)
		assert.InDelta(t, v.reading.Distance(), r.Params["ink"], 1e-9)
		assert.Less(t, v.reading.Left.At.X-sound.reading.Left.At.X, 2.0, "the density still finds the mark")
		assert.Greater(t, v.reading.Left.At.X-sound.reading.Left.At.X, -2.0)
	}
}

// gleaming is the picture with a lamp's mirror image at a place, as strong as a third of full light and 45 mm
// wide.
func gleaming(grey *image.Gray, at, beside homography.Pixel) *image.Gray {
	out := image.NewGray(grey.Rect)
	var lights [256]float64
	for level := range lights {
		lights[level] = relief.Linear(float64(level))
	}
	wide := 45 * math.Hypot(beside.X-at.X, beside.Y-at.Y) // beside is 1 mm away
	for i, level := range grey.Pix {
		dx, dy := float64(i%grey.Stride)-at.X, float64(i/grey.Stride)-at.Y
		light := lights[level] + math.Exp(-(dx*dx+dy*dy)/(2*wide*wide))/3
		out.Pix[i] = uint8(min(255, sort.SearchFloat64s(lights[:], light)))
	}
	return out
}

// A photo is read as one in which a lamp may gleam: a gleam between the marks moves the reading by less than
// its interval, and by less than half of what it moves a reading that knows of none.
func TestAGleamOnAPhotoMisleadsLittle(t *testing.T) {
	m := meter(t)
	sound, err := m.look(context.Background(), read(t, "paper-1.jpg"), Settings{Medium: calibration.Paper})
	require.NoError(t, err)
	require.NotNil(t, sound.camera())
	grey := gleaming(
		sound.photo.Grey(),
		sound.toPixel(relief.Point{X: 0, Y: -10}),
		sound.toPixel(relief.Point{X: 1, Y: -10}),
	)
	v, err := m.look(context.Background(), read(t, "paper-1.jpg"), Settings{Medium: calibration.Paper})
	require.NoError(t, err)
	require.NoError(t, v.readInk(grey, v.window.Frame))
	scanned := v.paper(v.window.Frame)
	scanned.Photo = false
	plain, why, err := scanned.Ink(grey, sound.reading, 1)
	require.NoError(t, err)
	require.NoError(t, why)
	moved := math.Abs(v.reading.Distance() - sound.reading.Distance())
	assert.Less(t, moved, 2*math.Sqrt(v.reading.VarSpacing))
	assert.Less(t, moved, math.Abs(plain.Density-sound.reading.Distance())/2)
}
