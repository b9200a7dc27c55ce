package spacing

import (
	"math"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"sitspan/imprint/homography"
)

// TestReliefDisplacement: measured spacing s' = s H/(H + d), in mm on 120 mm.
// Source: relief displacement, d = r h/H (Wolf and Dewitt, Elements of
// Photogrammetry; seen in public course notes, not in the book), the table recomputed from it; printed to
// 0.01.
func TestReliefDisplacement(t *testing.T) {
	depths := []float64{1, 3, 5, 10}
	for height, errors := range map[float64][]float64{
		300:  {-0.40, -1.19, -1.97, -3.87},
		400:  {-0.30, -0.89, -1.48, -2.93},
		500:  {-0.24, -0.72, -1.19, -2.35},
		700:  {-0.17, -0.51, -0.85, -1.69},
		1000: {-0.12, -0.36, -0.60, -1.19},
	} {
		camera := &homography.Camera{Position: homography.PlanePoint{X: 13, Y: -40}, Height: height}
		for i, depth := range depths {
			l, err := SeenAt(camera, homography.PlanePoint{X: -60, Y: 0}, depth)
			require.NoError(t, err)
			r, err := SeenAt(camera, homography.PlanePoint{X: 60, Y: 0}, depth)
			require.NoError(t, err)
			assert.InDelta(t, errors[i], l.Distance(r)-120, 0.005, "%v mm deep from %v mm", depth, height)
		}
	}
}

// TestParallaxAgainstProjection takes a point below the plane through a tilted pinhole camera, worked out
// in three dimensions, and back through the plane's homography and equation (1).
func TestParallaxAgainstProjection(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		from := [3]float64{
			rapid.Float64Range(-60, 60).Draw(t, "cx"),
			rapid.Float64Range(-60, 60).Draw(t, "cy"),
			rapid.Float64Range(250, 900).Draw(t, "h"),
		}
		tilt, turn := rapid.Float64Range(0, 0.4).Draw(t, "tilt"), rapid.Float64Range(-3, 3).Draw(t, "turn")
		see := func(x, y, depth float64) homography.Pixel {
			// the camera's axes: turned about the vertical, then tilted about its own x
			a, b, c := x-from[0], y-from[1], from[2]+depth
			a, b = math.Cos(turn)*a+math.Sin(turn)*b, -math.Sin(turn)*a+math.Cos(turn)*b
			b, c = math.Cos(tilt)*b-math.Sin(tilt)*c, math.Sin(tilt)*b+math.Cos(tilt)*c
			return homography.Pixel{X: 2000 + 3000*a/c, Y: 1500 + 3000*b/c}
		}
		var plane []homography.PlanePoint
		var image []homography.Pixel
		for _, q := range []homography.PlanePoint{{X: -100, Y: -70}, {X: 100, Y: -70}, {X: 100, Y: 70},
			{X: -100, Y: 70}, {}} {
			plane, image = append(plane, q), append(image, see(q.X, q.Y, 0))
		}
		h, err := homography.Direct(plane, image)
		require.NoError(t, err)
		x := rapid.Float64Range(-90, 90).Draw(t, "x")
		y := rapid.Float64Range(-60, 60).Draw(t, "y")
		depth := rapid.Float64Range(-2, 25).Draw(t, "depth")
		seen, err := h.PlaneFromImage(see(x, y, depth))
		require.NoError(t, err)
		camera := &homography.Camera{Position: homography.PlanePoint{X: from[0], Y: from[1]}, Height: from[2]}
		at, _, err := Parallax(camera, seen, depth)
		require.NoError(t, err)
		assert.InDelta(t, 0, at.Distance(homography.PlanePoint{X: x, Y: y}), 1e-5, "mm, from exact corners")
		back, err := SeenAt(camera, at, depth)
		require.NoError(t, err)
		assert.InDelta(t, 0, back.Distance(seen), 1e-9)
	})
}

func TestParallaxSensitivities(t *testing.T) {
	camera := &homography.Camera{Position: homography.PlanePoint{X: 13, Y: -40}, Height: 320}
	left, right := homography.PlanePoint{X: -58, Y: 4}, homography.PlanePoint{X: 61, Y: -7}
	spacing := func(dx, dy, dh, dl, dr float64) float64 {
		moved := &homography.Camera{
			Position: homography.PlanePoint{X: 13 + dx, Y: -40 + dy},
			Height:   320 + dh,
		}
		s, err := Corrected(moved, left, right, 12+dl, 15+dr)
		require.NoError(t, err)
		return s.Millimetres
	}
	s, err := Corrected(camera, left, right, 12, 15)
	require.NoError(t, err)
	const step = 1e-3 // central differences: second order, 1e-6 of the third derivative
	assert.InDelta(t, (spacing(step, 0, 0, 0, 0)-spacing(-step, 0, 0, 0, 0))/(2*step), s.ByPosition.X, 1e-8)
	assert.InDelta(t, (spacing(0, step, 0, 0, 0)-spacing(0, -step, 0, 0, 0))/(2*step), s.ByPosition.Y, 1e-8)
	assert.InDelta(t, (spacing(0, 0, step, 0, 0)-spacing(0, 0, -step, 0, 0))/(2*step), s.ByHeight, 1e-8)
	assert.InDelta(t, (spacing(0, 0, 0, step, 0)-spacing(0, 0, 0, -step, 0))/(2*step), s.ByDepthLeft, 1e-8)
	assert.InDelta(t, (spacing(0, 0, 0, 0, step)-spacing(0, 0, 0, 0, -step))/(2*step), s.ByDepthRight, 1e-8)
	// A depth common to both sides lengthens the spacing seen by 1/H a mm.
	equal, err := Corrected(camera, left, right, 14, 14)
	require.NoError(t, err)
	assert.InEpsilon(t, left.Distance(right)/320, math.Abs(equal.ByDepthLeft+equal.ByDepthRight), 1e-12)
	assert.Zero(t, equal.ByPosition.X, "equal depths: the position cancels")
	camera.Covariance[2][2] = 144
	equal, err = Corrected(camera, left, right, 14, 14)
	require.NoError(t, err)
	assert.InEpsilon(t, 12*left.Distance(right)*14/(320*320), equal.UCamera(), 1e-12)
}

func TestParallaxRefusesNonsense(t *testing.T) {
	camera := &homography.Camera{Height: 300}
	for _, depth := range []float64{-300, -400, math.NaN(), math.Inf(1)} {
		_, _, err := Parallax(camera, homography.PlanePoint{X: 1, Y: 1}, depth)
		require.ErrorIs(t, err, ErrBadDepth)
		_, err = SeenAt(camera, homography.PlanePoint{X: 1, Y: 1}, depth)
		require.ErrorIs(t, err, ErrBadDepth)
	}
	_, _, err := Parallax(&homography.Camera{}, homography.PlanePoint{}, 1)
	require.ErrorIs(t, err, ErrBadDepth)
	_, err = Corrected(camera, homography.PlanePoint{X: 1, Y: 1}, homography.PlanePoint{X: 1, Y: 1}, 0, 0)
	require.Error(t, err)
}
