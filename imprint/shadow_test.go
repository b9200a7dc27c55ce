package imprint

import (
	"context"
	"image"
	"math"
	"slices"
	"testing"

	"github.com/disintegration/imaging"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"sitspan/calibration"
	"sitspan/imprint/codes"
	"sitspan/imprint/homography"
	"sitspan/imprint/photo"
	"sitspan/imprint/relief"
)

// shaded is a sight of a drawn window: two dents 120 mm apart on an even pad under even light, with a shadow
// from the rim on either side that ends so many mm from the centre (0: no shadow).
func shaded(t *testing.T, m calibration.Medium, left, right float64) *sight {
	t.Helper()
	v := pair(m, 1, 1)
	v.m.Plane = &Plane{}
	v.window = relief.Window{Light: make([]float64, relief.Cells)}
	for i := range v.window.Light {
		p := relief.At(i)
		v.window.Light[i] = 0.4
		if math.Abs(p.Y) < 20 && (left > 0 && p.X < -60-left || right > 0 && p.X > 60+right) {
			v.window.Light[i] = 0.1
		}
	}
	white := make([]float64, len(relief.Patches))
	for i := range white {
		white[i] = 0.8
	}
	f, lit := relief.FitFrameLight(white)
	require.True(t, lit)
	v.window.Frame = f
	return v
}

func TestTheFramesShadowOnADentIsReviewed(t *testing.T) {
	for _, c := range []struct {
		name        string
		left, right float64
		says        *codes.Entry // "" for nothing
	}{
		{"none", 0, 0, nil},
		{"right", 0, 3, codes.ShadowOnRight},
		{"left", 8, 0, codes.ShadowOnLeft},
		{"both", 2, 6, codes.ShadowOnBoth},
		{"near, but not there", 12, 14, nil},
	} {
		v := shaded(t, calibration.Foam, c.left, c.right)
		v.judgeShadow()
		if c.says == nil {
			require.Empty(t, v.m.Reasons, c.name)
			require.Equal(t, Measured, v.m.Status, c.name)
			continue
		}
		require.Equal(t, []string{"frame_shadow"}, codesOf(v.m), c.name)
		require.Equal(t, Review, v.m.Status, c.name)
		assert.Equal(t, c.says.Key(), v.m.Reasons[0].Key(), c.name)
	}
	paper := shaded(t, calibration.Paper, 0, 3)
	paper.judgeShadow()
	require.Empty(t, paper.m.Reasons, "the frame is printed on the sheet itself")
	unframed := shaded(t, calibration.Foam, 0, 3)
	unframed.m.Plane = nil
	unframed.judgeShadow()
	require.Empty(t, unframed.m.Reasons, "no frame, no shadow of it")
	refused := shaded(t, calibration.Foam, 0, 3)
	refused.m.refuse(codes.NoDent.With())
	refused.judgeShadow()
	require.Equal(t, []string{"no_dent"}, codesOf(refused.m))
}

// A gap beyond the bound is not written as the bound itself, nor one within it as beyond.
func TestTheShadowsGapReadsSo(t *testing.T) {
	r := shadowed.of(9.3, 40)
	require.NotNil(t, r)
	require.Equal(t, 10.0, r.Params["gap"])
	require.Equal(t, 10.0, r.Params["needed"])
}

// castShadow darkens a bundled photo's window from its right edge to so many mm right of the right centre, as
// a shadow of the frame's edge would: to a quarter of the light.
func castShadow(t *testing.T, m *Meter, name string, gap float64) *photo.Photo {
	t.Helper()
	p := read(t, name)
	v, err := m.look(context.Background(), p, Settings{Medium: calibration.Foam})
	require.NoError(t, err)
	require.True(t, v.read)
	dent := v.reading.Right.At
	img := imaging.Clone(p.Colour(1 << 14))
	return encode(t, darken(img, func(px homography.Pixel) bool {
		q, err := v.m.Plane.Fit.PlaneFromImage(px)
		return err == nil && q.X > dent.X+gap && q.X < 106 && math.Abs(q.Y-dent.Y) < 25
	}))
}

// darken leaves a quarter of the light where in holds; 0.53 of a grey level is that under a gamma of 2.2.
func darken(img *image.NRGBA, in func(homography.Pixel) bool) *image.NRGBA {
	for i := range len(img.Pix) / 4 {
		if x, y := i%img.Rect.Dx(), i/img.Rect.Dx(); in(homography.Pixel{X: float64(x), Y: float64(y)}) {
			for c := range 3 {
				img.Pix[4*i+c] = uint8(0.53 * float64(img.Pix[4*i+c]))
			}
		}
	}
	return img
}

// A single photo goes to review for it, alone and as the only one of a set; of several photos it is a
// warning, since the others hold its reading to account.
func TestAPhotoWithTheFramesShadow(t *testing.T) {
	m := meter(t)
	s := Settings{Medium: calibration.Foam}
	ctx := context.Background()
	dark := castShadow(t, m, "foam-window.jpg", 3)
	one, err := m.Measure(ctx, dark, s)
	require.NoError(t, err)
	require.Equal(t, Review, one.Status)
	require.Contains(t, codesOf(one), "frame_shadow")
	require.NotNil(t, one.Spacing, "a review has its number")
	alone, err := m.MeasureTogether(ctx, []*photo.Photo{dark}, s)
	require.NoError(t, err)
	require.Equal(t, codesOf(one), codesOf(alone))

	sound := read(t, "foam-window.jpg")
	three, err := m.MeasureTogether(ctx, []*photo.Photo{sound, dark, sound}, s)
	require.NoError(t, err)
	require.NotContains(t, codesOf(three), "frame_shadow")
	for i, want := range []bool{false, true, false} {
		require.Equal(
			t,
			want,
			slices.Contains(warned(three.Parts[i].Measurement), "frame_shadow"),
			"photo %d",
			i,
		)
	}
	require.True(t, three.Parts[1].Used)
	require.Contains(t, warned(three), "frame_shadow")

	clear, err := m.Measure(ctx, castShadow(t, m, "foam-window.jpg", 25), s)
	require.NoError(t, err)
	require.NotContains(t, codesOf(clear), "frame_shadow")
}
