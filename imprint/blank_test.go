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
	"sitspan/calibration/artwork"
	"sitspan/imprint/codes"
	"sitspan/imprint/homography"
	"sitspan/imprint/judge"
	"sitspan/imprint/photo"
	"sitspan/imprint/relief"
)

// paint is ln of how much lighter the pad is at a place of the frame's window.
type paint func(relief.Point) float64

// stained paints a bundled photo's pad.
func stained(t *testing.T, name string, f paint) *photo.Photo {
	t.Helper()
	return painted(t, read(t, name), f)
}

// painted multiplies the light in the frame's window.
func painted(t *testing.T, p *photo.Photo, f paint) *photo.Photo {
	t.Helper()
	at := &Measurement{Verdict: judge.Verdict{Status: Measured}}
	plane := at.findPlane(p, p.Grey())
	require.NotNil(t, plane, "%v", at.Reasons)
	img := imaging.Clone(p.Colour(max(p.Width, p.Height)))
	w := calibration.ControlFrame.Window
	box := boxOf(plane, w)
	for y := box.Min.Y; y < box.Max.Y; y++ {
		for x := box.Min.X; x < box.Max.X; x++ {
			q, err := plane.Fit.PlaneFromImage(homography.Pixel{X: float64(x), Y: float64(y)})
			if err != nil || math.Abs(q.X) > w.Width/2 || math.Abs(q.Y) > w.Height/2 {
				continue
			}
			k := math.Exp(f(relief.Point(q)))
			for c := range 3 {
				i := y*img.Stride + 4*x + c
				img.Pix[i] = level(relief.Linear(float64(img.Pix[i])) * k)
			}
		}
	}
	made := encode(t, img)
	made.Focal35, made.FocalDoubts, made.HasCamera = p.Focal35, p.FocalDoubts, p.HasCamera
	return made
}

// level turns linear light into a grey level, as sRGB, IEC 61966-2-1, does (constants as public copies
// print them).
func level(light float64) uint8 {
	v := 12.92 * light
	if light > 0.0031308 {
		v = 1.055*math.Pow(light, 1/2.4) - 0.055
	}
	return uint8(math.Round(255 * math.Max(0, math.Min(1, v))))
}

// emptyPad is a drawn photo from straight above of the frame on an even pad, so bright beside the frame's
// white.
func emptyPad(t *testing.T, bright float64, f paint) *photo.Photo {
	t.Helper()
	d, err := artwork.Draw(calibration.ControlFrame, artwork.Options{Medium: calibration.Paper})
	require.NoError(t, err)
	g, err := d.Raster(150)
	require.NoError(t, err)
	sheet := imaging.Clone(g)
	for i := range sheet.Pix {
		if i%4 < 3 {
			sheet.Pix[i] = level(0.6 * relief.Linear(float64(sheet.Pix[i])))
		}
	}
	table := imaging.New(sheet.Rect.Dx()+200, sheet.Rect.Dy()+200, color.White)
	return painted(
		t,
		encode(t, imaging.PasteCenter(table, sheet)),
		func(p relief.Point) float64 { return math.Log(bright) + f(p) },
	)
}

func clean(relief.Point) float64 { return 0 }

// padBrightness is the brightness of a bundled photo's pad over its frame's white.
func padBrightness(t *testing.T, name string) float64 {
	t.Helper()
	p := read(t, name)
	w, _, why := blankWindows(p, relief.View{})
	require.Nil(t, why)
	light, _, _ := w.OverFrame()
	return light
}

// blots are dark Gaussian stains, ln of light at their middles.
func blots(depth, sd float64, at ...relief.Point) paint {
	return func(p relief.Point) (l float64) {
		for _, c := range at {
			l -= depth * math.Exp(-((p.X-c.X)*(p.X-c.X)+(p.Y-c.Y)*(p.Y-c.Y))/(2*sd*sd))
		}
		return l
	}
}

// oldDent is the shading of a dent that an earlier sitting left, equation (2) to first order under a lamp at
// the side that gives walls facing it ln 1 + p per unit of slope: light on the one wall, dark on the other.
func oldDent(depth, sd, p float64, c relief.Point) paint {
	return func(q relief.Point) float64 {
		ex, ey := (q.X-c.X)/sd, (q.Y-c.Y)/sd
		slope := -depth / sd * ex * math.Exp(-(ex*ex+ey*ey)/2)
		return p*slope - 0.3*slope*slope
	}
}

// measuredWith is a stained photo measured with a blank, and its error in mm (NaN without a number).
func measuredWith(t *testing.T, m *Meter, one truth, p, blank *photo.Photo) (*Measurement, float64) {
	t.Helper()
	got, err := m.Measure(context.Background(), p, Settings{Medium: calibration.Foam, Blank: blank})
	require.NoError(t, err)
	if got.Spacing == nil {
		return got, math.NaN()
	}
	return got, got.Spacing.Value - one.Spacing
}

// The same stains and old dents on the photo and on a blank taken from another place: without the blank the
// photo is refused, or wrong by more than its interval; with it the truth lies in the interval (the claimed
// uncertainty is the tolerance).
func TestABlankTakesOldDentsAndStainsAway(t *testing.T) {
	m := meter(t)
	one := truths(t)[0]
	require.Equal(t, "foam-window.jpg", one.Name)
	bright := padBrightness(t, one.Name)
	for _, c := range []struct {
		name string
		pad  paint
	}{
		{"an old dent beside a new one", oldDent(14, 12, 0.9, relief.Point{X: -44, Y: 14})},
		{"an older imprint", func(p relief.Point) float64 {
			return oldDent(14, 12, 0.9, relief.Point{X: -44, Y: 14})(p) +
				oldDent(14, 12, 0.9, relief.Point{X: 30, Y: 14})(p)
		}},
		{"two stains like dents", blots(0.8, 12, relief.Point{X: 0, Y: 20}, relief.Point{X: 0, Y: -35})},
	} {
		p := stained(t, one.Name, c.pad)
		bare, off := measuredWith(t, m, one, p, nil)
		with, left := measuredWith(t, m, one, p, emptyPad(t, bright, c.pad))
		t.Logf(
			"%s: %s %v %+.1f mm, with the blank %s %+.1f mm",
			c.name,
			bare.Status,
			codesOf(bare),
			off,
			with.Status,
			left,
		)
		if bare.Status == Measured {
			u, _ := bare.Expanded()
			assert.Greater(t, math.Abs(off), u, "%s: the pad must mislead, or this tests nothing", c.name)
		}
		require.Equal(t, Measured, with.Status, "%s: %v", c.name, with.Reasons)
		u, _ := with.Expanded()
		assert.InDelta(t, 0, left, u, c.name)
	}
}

// A blank that does not belong to the photo is not used: one line says why, and the number is what it is
// without.
func TestABlankThatDoesNotBelongIsNotUsed(t *testing.T) {
	m := meter(t)
	one := truths(t)[0]
	bright := padBrightness(t, one.Name)
	stain, elsewhere := blots(0.5, 6, relief.Point{X: 10, Y: 45}), blots(0.5, 6, relief.Point{X: 25, Y: 40})
	p := stained(t, one.Name, stain)
	bare, _ := measuredWith(t, m, one, p, nil)
	require.Equal(t, Measured, bare.Status)
	for _, c := range []struct {
		name  string
		blank *photo.Photo
		says  *codes.Entry
	}{
		{"no frame", encode(t, imaging.New(1600, 1200, color.Gray{150})), codes.BlankRefused},
		{"the imprint's own photo", p, codes.BlankItself},
		{"another pad", emptyPad(t, 2*bright, stain), codes.BlankBrightness},
		{"the frame moved", emptyPad(t, bright, elsewhere), codes.BlankStranger},
		{"part of the frame", encode(t, cropped(emptyPad(t, bright, stain))), codes.BlankRefused},
	} {
		got, _ := measuredWith(t, m, one, p, c.blank)
		require.Equal(t, Review, got.Status, c.name)
		require.Len(t, got.Reasons, 1, c.name)
		r := got.Reasons[0]
		assert.Equal(t, c.says.Key(), r.Key(), c.name)
		assert.Equal(t, bare.Spacing.Value, got.Spacing.Value, c.name)
	}
	even, _ := measuredWith(t, m, one, read(t, one.Name), emptyPad(t, bright, clean))
	require.Equal(t, Measured, even.Status, "an even pad is no stranger: %v", even.Reasons)
}

func cropped(p *photo.Photo) image.Image {
	return imaging.Crop(p.Colour(p.Width), image.Rect(0, 0, p.Width*45/100, p.Height*45/100))
}

func TestPaperNeedsNoBlank(t *testing.T) {
	m := meter(t)
	s := Settings{Medium: calibration.Paper}
	bare, err := m.Measure(context.Background(), read(t, "paper-1.jpg"), s)
	require.NoError(t, err)
	s.Blank = read(t, "paper-2.jpg")
	got, err := m.Measure(context.Background(), read(t, "paper-1.jpg"), s)
	require.NoError(t, err)
	require.Equal(t, bare.Spacing.Value, got.Spacing.Value)
	require.Contains(t, warned(got), "blank_unusable")
}

// boxOf holds the frame's window in the picture.
func boxOf(plane *Plane, w calibration.Size) (box image.Rectangle) {
	for _, c := range [][2]float64{{-1, -1}, {1, -1}, {1, 1}, {-1, 1}} {
		p := plane.Fit.ImageFromPlane(homography.PlanePoint{X: c[0] * w.Width / 2, Y: c[1] * w.Height / 2})
		at := image.Pt(int(p.X), int(p.Y))
		box = box.Union(image.Rectangle{at, at.Add(image.Pt(2, 2))})
	}
	return box
}

func warned(m *Measurement) (c []string) {
	for _, w := range m.Warnings {
		c = append(c, w.Code)
	}
	return c
}

// Where the imprint's lines of sight through the plane below meet the frame's, there the blank is read once
// more. From 10 mm above the cell at (1, 1), and the plane 10 mm below, that is half way from there to each
// cell (equation (1) by hand), so every second cell shows what another shows on the frame's plane. A level of
// the 8-bit picture either way is the tolerance, and one for the reading's finer grid.
func TestABlankIsReadWhereTheImprintSeesIt(t *testing.T) {
	p := emptyPad(t, 0.5, blots(0.8, 20, relief.Point{X: 41, Y: 21}, relief.Point{X: -59, Y: -19}))
	w, under, why := blankWindows(p, relief.View{X: 1, Y: 1, Height: relief.Level})
	require.Nil(t, why)
	at := func(column, row int) int { return row*relief.Columns + column }
	const midColumn, midRow = 52, 32
	require.Equal(t, relief.Point{X: 1, Y: 1}, relief.At(at(midColumn, midRow)))
	unlike := 0
	for dx := -24; dx <= 24; dx += 2 {
		for dy := -14; dy <= 14; dy += 2 {
			got, want := under.Light[at(midColumn+2*dx, midRow+2*dy)], w.Light[at(midColumn+dx, midRow+dy)]
			l := float64(level(want))
			require.InDelta(t, want, got, relief.Linear(l+2)-relief.Linear(l), "%d, %d", dx, dy)
			if math.Abs(want-w.Light[at(midColumn+2*dx, midRow+2*dy)]) > relief.Linear(l+2)-relief.Linear(l) {
				unlike++
			}
		}
	}
	require.Greater(t, unlike, 100, "the cell itself shows something else in many places")
}
