package homography

import (
	"math"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"
)

// TestPropertyNothingIsNaN: whatever points come in, marks missing, points
// doubled, pixels thrown about, Fit answers with an error or with numbers.
func TestPropertyNothingIsNaN(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		s := drawScene(t)
		var points []Correspondence
		for _, p := range s.corners(source(1), 0.1, nil) {
			switch rapid.IntRange(0, 5).Draw(t, "fate") {
			case 0: // lost
			case 1:
				p.Pixel = Pixel{rapid.Float64Range(0, 2016).Draw(t, "x"), rapid.Float64Range(0, 1512).Draw(t, "y")}
				points = append(points, p)
			case 2:
				points = append(points, p, p)
			default:
				points = append(points, p)
			}
		}
		fit, err := Fit(points, s.options())
		if err != nil {
			return
		}
		for _, v := range []float64{fit.RMSPixels, fit.RMSMillimetres, fit.CornerU, fit.DegreesOfFreedom,
			fit.Clustering,
			fit.Withheld.RMS, fit.Lens.K1, fit.Lens.UK1, fit.Lens.UPrincipal} {
			require.False(t, math.IsNaN(v) || math.IsInf(v, 0), "%+v", fit.Lens)
		}
		assert.Len(t, fit.Residuals, len(points))
		if spacing, err := fit.SpacingUncertainty(Pixel{700, 700}, Pixel{1300, 720}); err == nil {
			assert.Greater(t, spacing.U, 0.0)
			assert.False(t, math.IsNaN(spacing.Millimetres))
		}
		if camera, err := fit.CameraFrom(Focal{s.focal, FocalU35 * s.focal}); err == nil {
			assert.Greater(t, camera.Height, 0.0)
			assert.Greater(t, camera.UHeight(), 0.0)
		}
	})
}

// TestPropertyLensInverts: undistort inverts distort wherever the model does
// not fold back, and says so where it does.
func TestPropertyLensInverts(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		d := distortion{
			k1: rapid.Float64Range(-0.2, 0.2).Draw(t, "k1"), k2: rapid.Float64Range(-0.02, 0.05).Draw(t, "k2"),
			cx: rapid.Float64Range(-0.05, 0.05).Draw(t, "cx"), cy: rapid.Float64Range(-0.05, 0.05).Draw(t, "cy"),
			p1: rapid.Float64Range(-0.002, 0.002).Draw(t, "p1"), p2: rapid.Float64Range(-0.002, 0.002).Draw(t, "p2"),
		}
		x, y := rapid.Float64Range(-0.8, 0.8).Draw(t, "x"), rapid.Float64Range(-0.6, 0.6).Draw(t, "y")
		dx, dy, _ := d.distort(x, y)
		ux, uy, ok := d.undistort(dx, dy)
		require.True(t, ok)
		assert.InDelta(t, x, ux, 1e-9)
		assert.InDelta(t, y, uy, 1e-9)
	})
	// k1 = -1/2 peaks at r = sqrt(2/3) with r - r^3/2 = 0.544: 0.6 has no inverse.
	_, _, ok := distortion{k1: -0.5}.undistort(0.6, 0)
	assert.False(t, ok)
}

func TestPixelPastTheHorizonIsAnError(t *testing.T) {
	// A grazing view: the plane's horizon crosses the upper part of the picture.
	s := phone()
	s.camera, s.tilt, s.turn, s.yaw = [3]float64{0, 330, 150}, 62, 0, 0
	fit := mustFit(t, s.corners(source(1), 0.1, nil), s.options())
	_, err := fit.PlaneFromImage(s.see(0, 0, 0))
	require.NoError(t, err)
	_, err = fit.PlaneFromImage(Pixel{1000, -3000})
	require.ErrorIs(t, err, ErrBeyondModel)
	_, err = fit.SpacingUncertainty(Pixel{1000, 700}, Pixel{1000, -3000})
	require.ErrorIs(t, err, ErrBeyondModel)
}
