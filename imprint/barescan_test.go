package imprint

import (
	"context"
	"image"
	"image/color"
	"image/draw"
	"testing"

	"github.com/disintegration/imaging"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"sitspan/calibration"
	"sitspan/imprint/codes"
	"sitspan/imprint/homography"
	"sitspan/imprint/judge"
	"sitspan/imprint/photo"
	"sitspan/imprint/scale"
	"sitspan/imprint/spacing"
)

const scanDPI = 150 // of scan-1.jpg, by testdata/photos/truth.jsonl

// bareScan is the window of scan-1.jpg on a larger sheet of its own paper: a scan without the frame.
func bareScan(t *testing.T) *image.NRGBA {
	t.Helper()
	p := read(t, "scan-1.jpg")
	plane := (&Measurement{Verdict: judge.Verdict{Status: Measured}}).findPlane(p, p.Grey())
	require.NotNil(t, plane)
	half := homography.PlanePoint{
		X: calibration.ControlFrame.Window.Width/2 - 4,
		Y: calibration.ControlFrame.Window.Height/2 - 4,
	}
	a, b := plane.Fit.ImageFromPlane(
		homography.PlanePoint{X: -half.X, Y: -half.Y},
	), plane.Fit.ImageFromPlane(
		half,
	)
	window := imaging.Crop(p.Colour(4000), image.Rect(int(a.X), int(a.Y), int(b.X), int(b.Y)))
	sheet := imaging.New(1735, 1310, window.At(4, 4))
	return imaging.Paste(sheet, window, image.Pt(240, 60))
}

// asScan is a picture that states its resolution, and no camera.
func asScan(t *testing.T, img image.Image) *photo.Photo {
	t.Helper()
	p := encode(t, img)
	p.Density = &photo.Density{X: scanDPI / 25.4, Y: scanDPI / 25.4, Source: "test"}
	return p
}

// blurredSquares draws soft squares below the imprint, side px wide.
func blurredSquares(img *image.NRGBA, side, n int, level uint8) *image.NRGBA {
	out := imaging.Clone(img)
	for i := range n {
		at := image.Rect(0, 0, side, side).Add(image.Pt(60+i*(side+60), 980))
		draw.Draw(out, at, image.NewUniform(color.Gray{level}), image.Point{}, draw.Src)
	}
	soft := imaging.Blur(imaging.Crop(out, image.Rect(0, 930, 1735, 1310)), 8)
	return imaging.Paste(out, soft, image.Pt(0, 930))
}

// stamp draws a coded mark below the imprint, side px wide, with so many modules of its payload turned over.
func stamp(img *image.NRGBA, id, side, wrong int) *image.NRGBA {
	out := imaging.Clone(img)
	payload := calibration.ControlFrame.Marks[id].Bits
	for row := range calibration.MarkModules {
		for col := range calibration.MarkModules {
			inside := row > 0 && col > 0 && row < calibration.MarkModules-1 && col < calibration.MarkModules-1
			white := inside && payload.White(row-1, col-1)
			if inside && wrong > 0 {
				white, wrong = !white, wrong-1
			}
			level := uint8(205) // too pale to count as ink
			if white {
				level = 240
			}
			module := image.Rect(
				col*side/7,
				row*side/7,
				(col+1)*side/7,
				(row+1)*side/7,
			).Add(
				image.Pt(300, 1000),
			)
			draw.Draw(out, module, image.NewUniform(color.Gray{level}), image.Point{}, draw.Src)
		}
	}
	return out
}

// What only looks like a mark does not stand in the way of the scan's resolution; a frame that is there,
// however little of it can be read, does: its picture is refused.
func TestWhatLooksLikeAMarkIsNoFrame(t *testing.T) {
	m := meter(t)
	bare := bareScan(t)
	framed := imaging.Clone(read(t, "scan-1.jpg").Colour(4000))
	mark := calibration.MarkSide * scanDPI / 25.4 // px
	for _, c := range []struct {
		name   string
		img    image.Image
		source scale.Source
		code   string
	}{
		{"nothing beside the imprint", bare, scale.ByResolution, ""},
		{"one soft square", blurredSquares(bare, 180, 1, 205), scale.ByResolution, ""},
		{"two soft squares", blurredSquares(bare, 180, 2, 205), scale.ByResolution, ""},
		{"a frame's worth of soft squares", blurredSquares(bare, 180, 4, 205), "", "blur"},
		{"a lone mark of another size with a module wrong", stamp(bare, 3, int(1.6*mark), 1), scale.ByResolution,
			""},
		{"a lone mark of the size that the resolution gives, a module wrong", stamp(bare, 3, int(mark), 1), "",
			"few_marks"},
		{"a lone mark of another size, every module right", stamp(bare, 3, int(1.6*mark), 0), "", "few_marks"},
		{"the frame, half of it hidden", imaging.Paste(framed, imaging.New(1735, 900, color.Gray{235}),
			image.Pt(0, 410)), "", ""},
		{"the frame, all but two marks hidden", imaging.Paste(framed, imaging.New(1735, 1310, color.Gray{235}),
			image.Pt(560, 200)), "", "few_marks"},
		{"the frame out of focus", imaging.Blur(framed, 0.8*mark/calibration.MarkModules), "", "blur"},
	} {
		got, err := m.Measure(context.Background(), asScan(t, c.img), Settings{Medium: calibration.Paper})
		require.NoError(t, err)
		if c.source == scale.ByResolution {
			assert.Equal(t, scale.ByResolution, got.ScaleSource, "%s: %v", c.name, got.Reasons)
			require.Equal(t, Measured, got.Status, "%s: %v", c.name, got.Reasons)
			u, _ := got.Expanded()
			assert.InDelta(t, 132.113, got.Spacing.Value, u, "%s; truth.jsonl of the bundled photos", c.name)
			continue
		}
		assert.NotEqual(t, scale.ByResolution, got.ScaleSource, c.name)
		assert.NotEqual(t, Measured, got.Status, c.name)
		if c.code != "" {
			require.NotEmpty(t, got.Reasons, c.name)
			assert.Equal(t, c.code, got.Reasons[0].Code, "%s: %v", c.name, got.Reasons)
		}
	}
}

// No lamp helps where ink tells too little.
func TestAWideIntervalOnPaperWantsAFreshSheet(t *testing.T) {
	for medium, want := range map[calibration.Medium]*codes.Entry{calibration.Paper: codes.WideOnPaper,
		calibration.Foam: codes.WideInterval} {
		m := &Measurement{
			Verdict: judge.Verdict{Status: Measured},
			Medium:  medium,
			Left:    &Depression{},
			Right:   &Depression{Bottom: spacing.Bottom{Point: homography.PlanePoint{X: 120}}},
			Spacing: &spacing.Estimate{
				Value:  120,
				Budget: spacing.Budget{spacing.Of(codes.FramePlane, 4, 1, codes.Assumed.With())},
			},
		}
		m.finish()
		require.Equal(t, Review, m.Status)
		require.Equal(t, want.Key(), m.Reasons[0].Key())
	}
}
