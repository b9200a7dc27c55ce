package imprint

import (
	"bufio"
	"bytes"
	"context"
	"encoding/json"
	"image"
	"image/color"
	"image/jpeg"
	"math"
	"os"
	"path/filepath"
	"testing"

	"github.com/disintegration/imaging"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"sitspan/calibration"
	"sitspan/calibration/artwork"
	"sitspan/calibration/gum"
	"sitspan/imprint/codes"
	"sitspan/imprint/judge"
	"sitspan/imprint/photo"
	"sitspan/imprint/spacing"
)

const photos = "../testdata/photos"

// truth is a line of testdata/photos/truth.jsonl: invented, path-traced scenes whose geometry is known.
type truth struct {
	Name    string
	Kind    string
	Frame   bool
	Spacing float64    `json:"spacing_mm"`
	Depth   [2]float64 `json:"depth_mm"`
	Height  float64    `json:"height_mm"`
	Left    [2]float64
	LeftPx  [2]float64 `json:"left_px"`
	RightPx [2]float64 `json:"right_px"`
}

func truths(t *testing.T) (all []truth) {
	t.Helper()
	f, err := os.Open(filepath.Join(photos, "truth.jsonl"))
	require.NoError(t, err)
	defer f.Close()
	for s := bufio.NewScanner(f); s.Scan(); {
		var one truth
		require.NoError(t, json.Unmarshal(s.Bytes(), &one))
		if one.Kind == "foam" || one.Kind == "ink" || one.Kind == "scan" {
			all = append(all, one)
		}
	}
	require.NotEmpty(t, all)
	return all
}

func meter(t *testing.T) *Meter {
	t.Helper()
	m := NewMeter()
	t.Cleanup(func() { require.NoError(t, m.Close()) })
	return m
}

func read(t *testing.T, name string) *photo.Photo {
	t.Helper()
	p, err := photo.Read(filepath.Join(photos, name), photo.Limits{})
	require.NoError(t, err)
	return p
}

func settingsFor(one truth) Settings {
	s := Settings{Medium: calibration.Foam}
	if one.Kind != "foam" {
		s.Medium = calibration.Paper
	}
	return s
}

// The tolerance is the claimed expanded uncertainty of the result under test (95 %); the scenes are few and
// fixed.
func TestBundledPhotosHoldTheTruthInTheirInterval(t *testing.T) {
	m := meter(t)
	for _, one := range truths(t) {
		for _, gauge := range []bool{false, true} {
			s := settingsFor(one)
			if gauge && one.Kind == "foam" {
				s.DepthMM = []float64{math.Round(one.Depth[0]), math.Round(one.Depth[1])}
			}
			got, err := m.Measure(context.Background(), read(t, one.Name), s)
			require.NoError(t, err)
			require.Equal(t, Measured, got.Status, "%s: %v", one.Name, got.Reasons)
			u, k := got.Expanded()
			assert.InDelta(t, one.Spacing, got.Spacing.Value, u, one.Name)
			assert.LessOrEqual(t, u, judge.WidestInterval.Value)
			assert.InDelta(t, 1.96, k, 0.2, "mostly infinite degrees of freedom")
			require.NoError(t, got.Spacing.Budget.Components().Check())
			if one.Kind == "foam" {
				c := got.Plane.Camera
				assert.InDelta(
					t,
					one.Height,
					c.Height,
					2*c.UHeight()+1,
					"height over the frame, which lies up to 1 mm above the pad: %s",
					one.Name,
				)
				assert.Greater(
					t,
					got.Spacing.Value,
					got.UncorrectedMM,
					"a bottom below the plane is seen too close to the other",
				)
			}
		}
	}
}

// Without --medium the same photos give the same numbers.
func TestTheMediumIsToldApart(t *testing.T) {
	m := meter(t)
	for _, one := range truths(t) {
		got, err := m.Measure(context.Background(), read(t, one.Name), Settings{})
		require.NoError(t, err)
		require.Equal(t, settingsFor(one).Medium, got.Medium, one.Name)
	}
}

func TestMonteCarloAgreesWithTheBudget(t *testing.T) {
	// The law of propagation against JCGM 101: the parallax is the only strongly nonlinear part, so the
	// camera's height and the depths are drawn and the corrected distance is worked out anew each time.
	m := meter(t)
	one := truths(t)[0]
	require.Equal(t, "foam", one.Kind)
	got, err := m.Measure(context.Background(), read(t, one.Name), settingsFor(one))
	require.NoError(t, err)
	c, l, r := got.Plane.Camera, got.Left, got.Right
	card := calibration.FoamPad().CardThickness
	common, camera := 0.0, 0.0
	for _, line := range got.Spacing.Budget {
		switch line.Source {
		case codes.DentDepth.Code:
			common = line.Std
		case codes.CameraPlace.Code:
			camera = line.Contribution()
		}
	}
	uHeight := c.UHeight()
	sample := gum.MonteCarlo(
		200_000,
		5,
		[]gum.Distribution{gum.NormalAbout(0, common), gum.NormalAbout(c.Height, uHeight)},
		func(x []float64) float64 {
			moved := *c
			moved.Height = x[1]
			s, err := spacing.Corrected(&moved, l.OnPlane, r.OnPlane, l.Depth+card+x[0], r.Depth+card+x[0])
			if err != nil {
				return math.NaN()
			}
			return s.Millimetres
		},
	)
	below, err := spacing.Corrected(c, l.OnPlane, r.OnPlane, l.Depth+card, r.Depth+card)
	require.NoError(t, err)
	analytic := math.Hypot((below.ByDepthLeft+below.ByDepthRight)*common, below.ByHeight*uHeight)
	// JCGM 101, 8.1: agreement to the first significant digit's half of u, here 0.05 mm or better
	require.InDelta(t, analytic, sample.Std(), gum.NumericalTolerance(analytic, 1))
	require.Greater(t, camera, 0.0)
}

func encode(t *testing.T, img image.Image) *photo.Photo {
	t.Helper()
	var b bytes.Buffer
	require.NoError(t, jpeg.Encode(&b, img, &jpeg.Options{Quality: 92}))
	p, err := photo.Decode(b.Bytes(), "made.jpg", photo.Limits{})
	require.NoError(t, err)
	return p
}

func codesOf(m *Measurement) (c []string) {
	for _, r := range m.Reasons {
		c = append(c, r.Code)
	}
	return c
}

// spoiled photos: what a tired person hands in, and the reason it must be given.
func TestSpoiledPhotosAreRefusedForTheRightReason(t *testing.T) {
	m := meter(t)
	foam := read(t, "foam-window.jpg").Colour(4000)
	w, h := foam.Bounds().Dx(), foam.Bounds().Dy()
	white := imaging.New(w/6, h/4, color.White)
	blank := imaging.New(1600, 1200, color.Gray{150})
	for _, c := range []struct {
		name string
		img  image.Image
		code []string
	}{
		{"nothing but grey", blank, []string{"no_frame"}},
		{"one corner of the frame", imaging.Crop(foam, image.Rect(0, 0, w*2/5, h*2/5)),
			[]string{"no_frame", "few_marks"}},
		{"half the frame hidden", imaging.Paste(foam, imaging.New(w/2, h, color.Gray{90}), image.Pt(w/2, 0)),
			[]string{"few_marks"}},
		{"out of focus", imaging.Blur(foam, 14), []string{"blur"}},
		{"the window burnt out", imaging.Paste(foam, white, image.Pt(w*3/10, h*2/5)), []string{"glare"}},
		{"a mirror image", imaging.FlipH(foam), []string{"mirrored"}},
		{"no imprint", frameOnEvenPad(t), []string{"no_dent", "low_relief"}},
	} {
		got, err := m.Measure(context.Background(), encode(t, c.img), Settings{Medium: calibration.Foam})
		require.NoError(t, err)
		require.NotEqual(t, Measured, got.Status, c.name)
		require.NotEmpty(t, got.Reasons, c.name)
		assert.Contains(t, c.code, got.Reasons[0].Code, "%s: %v", c.name, codesOf(got))
	}
}

// frameOnEvenPad is the printed frame itself with an even pad in its window.
func frameOnEvenPad(t *testing.T) image.Image {
	t.Helper()
	d, err := artwork.Draw(calibration.ControlFrame, artwork.Options{Medium: calibration.Paper})
	require.NoError(t, err)
	g, err := d.Raster(150)
	require.NoError(t, err)
	img := imaging.Clone(g)
	for i := 0; i < len(img.Pix); i += 4 {
		noise := uint8((i / 4 * 2654435761) >> 13 & 3)
		for c := range 3 {
			img.Pix[i+c] = uint8(int(img.Pix[i+c])*200/255) + 20 + noise
		}
	}
	return img
}

// A printed frame, rasterised at a known scale, is found whole and measured to 0.05 % (a tenth of what an
// unmeasured print may be off).
func TestThePrintedFrameIsFoundAtItsScale(t *testing.T) {
	for _, paper := range []artwork.Paper{artwork.A4, artwork.Letter} {
		for _, medium := range []calibration.Medium{calibration.Foam, calibration.Paper} {
			d, err := artwork.Draw(calibration.ControlFrame, artwork.Options{Paper: paper, Medium: medium})
			require.NoError(t, err)
			const dpi = 200
			g, err := d.Raster(dpi)
			require.NoError(t, err)
			p := encode(t, g)
			p.Density = &photo.Density{X: dpi / 25.4, Y: dpi / 25.4, Source: "test"}
			m := &Measurement{Verdict: judge.Verdict{Status: Measured}}
			plane := m.findPlane(p, p.Grey())
			require.NotNil(t, plane, "%v", m.Reasons)
			require.Equal(t, 12, m.Marks)
			require.InEpsilon(t, 25.4/dpi, m.GroundSample, 0.0005)
			require.Equal(t, Measured, m.Status, "%v", m.Reasons)
		}
	}
}

func TestTurnedPhotosGiveTheSameNumber(t *testing.T) {
	m := meter(t)
	img := read(t, "paper-1.jpg").Colour(4000)
	s := Settings{Medium: calibration.Paper}
	base, err := m.Measure(context.Background(), encode(t, img), s)
	require.NoError(t, err)
	for name, turned := range map[string]image.Image{"90": imaging.Rotate90(img), "180": imaging.Rotate180(img),
		"270": imaging.Rotate270(img)} {
		got, err := m.Measure(context.Background(), encode(t, turned), s)
		require.NoError(t, err)
		// the same pixels in other places: JPEG's blocks move, which a tenth of a millimetre of the reading's
		// own u bounds
		u, _ := base.Expanded()
		require.InDelta(t, base.Spacing.Value, got.Spacing.Value, 0.1*u, name)
	}
}

func TestSeveralPhotosAgreeOrAreDropped(t *testing.T) {
	m := meter(t)
	p := read(t, "foam-window.jpg")
	same, err := m.MeasureTogether(
		context.Background(),
		[]*photo.Photo{p, p},
		Settings{Medium: calibration.Foam},
	)
	require.NoError(t, err)
	one, err := m.Measure(context.Background(), p, Settings{Medium: calibration.Foam})
	require.NoError(t, err)
	u, _ := one.Expanded()
	require.InDelta(t, one.Spacing.Value, same.Spacing.Value, 0.1*u)
	require.Len(t, same.Parts, 2)
	var all []*sight
	for i := range 3 {
		v, err := m.look(context.Background(), p, Settings{Medium: calibration.Foam})
		require.NoError(t, err)
		if i == 1 { // both centres to one side, as where the frame was moved or another imprint shows
			v.reading.Left.At.X -= 8
			v.reading.Right.At.X -= 8
		}
		v.conclude(Settings{Medium: calibration.Foam})
		all = append(all, v)
	}
	odd := combined(t, all, Settings{Medium: calibration.Foam})
	require.Equal(t, Measured, odd.Status, "%v", codesOf(odd))
	require.False(t, odd.Parts[1].Used)
	require.True(t, codes.OtherImprint.Is(odd.Parts[1].Why))
	require.InDelta(t, one.Spacing.Value, odd.Spacing.Value, u)
}

func TestSittingsHaveARepeatability(t *testing.T) {
	m := meter(t)
	a, b := read(t, "foam-window.jpg"), read(t, "foam-two-lamps.jpg")
	got, err := m.MeasureSittings(
		context.Background(),
		[][]*photo.Photo{{a}, {b}},
		Settings{Medium: calibration.Foam},
	)
	require.NoError(t, err)
	x, y := got.Parts[0].Measurement.Spacing.Value, got.Parts[1].Measurement.Spacing.Value
	require.InDelta(t, (x+y)/2, got.Spacing.Value, 1e-9)
	line := got.Spacing.Budget[0]
	require.Equal(t, codes.Repeatability.Code, line.Source)
	require.InDelta(t, math.Abs(x-y)/2, line.Std, 1e-9) // s/sqrt(2) of two values (JCGM 100, 4.2.3)
	require.Equal(t, 1.0, line.DoF)
	_, err = m.MeasureSittings(context.Background(), [][]*photo.Photo{{a}}, Settings{})
	require.Error(t, err)
}

func TestSettingsAreChecked(t *testing.T) {
	require.NoError(t, Settings{}.Check())
	require.Error(t, Settings{DepthMM: []float64{1, 2, 3}}.Check())
	require.Error(t, Settings{DepthMM: []float64{-1}}.Check())
	require.Error(t, Settings{DepthMM: []float64{math.NaN()}}.Check())
	require.Error(t, Settings{DepthU: math.Inf(1)}.Check())
}

func TestACancelledMeasurementStops(t *testing.T) {
	m := meter(t)
	ctx, cancel := context.WithCancel(context.Background())
	cancel()
	_, err := m.Measure(ctx, read(t, "paper-1.jpg"), Settings{})
	require.ErrorIs(t, err, context.Canceled)
}
