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
				by := codes.InkInPhoto.With(inkInPhotos)
				if v.camera() == nil {
					by = codes.InkAndNet.With(inkInScans)
				}
				assert.Equal(t, by, c.From, one.Name)
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

// A net that parts from a scan's density widens the number by as much as they part, in standard uncertainties
// of their difference. Somebody must look only where that makes it too wide.
func TestANetThatPartsWidensAScansNumber(t *testing.T) {
	m := meter(t)
	for off, seen := range map[float64][]string{0: nil, 2: nil, 14: {"readings_disagree"}} { // mm, of one centre
		v, err := m.look(context.Background(), read(t, "scan-1.jpg"), Settings{Medium: calibration.Paper})
		require.NoError(t, err)
		require.Nil(t, v.camera())
		v.m.Status, v.m.Reasons = Measured, nil
		v.reading.Left.At.X -= off
		v.reading.VarSpacing = 0.5 * 0.5 // less than 0.65 times the density's, so that the net has all weight
		net := v.reading.Distance()
		in, why, err := v.paper(v.window.Frame).Ink(v.photo.Grey(), v.reading, 0.5)
		require.NoError(t, err)
		require.NoError(t, why)
		require.Less(t, 0.5, 0.65*in.DensityU)
		require.NoError(t, v.readInk(v.photo.Grey(), v.window.Frame))
		require.Equal(t, seen, codesOf(v.m), "%g mm", off)
		parted := math.Sqrt(0.25 + in.DensityU*in.DensityU - 2*0.65*0.5*in.DensityU)
		want := 0.5 * max(1, math.Abs(net-in.Density)/parted)
		assert.InDelta(t, want, math.Sqrt(v.reading.VarSpacing), 1e-9, "%g mm", off)
	}
}

// Whether a picture without the frame shows an imprint is the ink's to say: a number that is too wide since
// the net saw something else goes to review, and is not refused.
func TestTheInkSaysWhetherAnUnframedPictureIsAnImprint(t *testing.T) {
	m := meter(t)
	s := Settings{Medium: calibration.Paper}
	for inkU, want := range map[float64]Status{1: Review, 4: Refused} { // mm; 6 are the most that U may be
		v, err := m.look(context.Background(), asScan(t, bareScan(t)), s)
		require.NoError(t, err)
		v.m.Status, v.m.Reasons = Measured, nil
		v.reading.VarSpacing, v.inkU = 4*4, inkU
		v.conclude(s)
		assert.Equal(t, want, v.m.Status, "%g mm", inkU)
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
