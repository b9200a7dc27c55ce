package homography

import (
	"math"
	"math/rand/v2"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"
)

// threeViews are from above and from either side by about 20 degrees.
func threeViews() []scene {
	views := []scene{phone(), phone(), phone()}
	views[1].camera, views[1].turn = [3]float64{-110, 5, 290}, 20
	views[2].camera, views[2].turn = [3]float64{120, 15, 295}, -20
	return views
}

// sight fits a view and looks at a point, with noise px on everything.
func sight(t require.TestingT, s scene, stated Focal, at PlanePoint, depth, noise float64,
	random *rand.Rand) Sight {
	fit, err := Fit(s.corners(random, noise, nil), s.options())
	require.NoError(t, err)
	camera, err := fit.CameraFrom(stated)
	require.NoError(t, err)
	pixel := s.see(at.X, at.Y, depth)
	const pixelU = 3.0 // the centre of an imprint is soft
	pixel.X += pixelU * random.NormFloat64()
	pixel.Y += pixelU * random.NormFloat64()
	seen, covariance, err := fit.TransferCovariance(pixel)
	require.NoError(t, err)
	jacobian, err := fit.PlaneJacobian(pixel)
	require.NoError(t, err)
	own := jacobian.Propagate(Covariance2{{pixelU * pixelU, 0}, {0, pixelU * pixelU}})
	return Sight{camera, seen, covariance.Add(own)}
}

func TestTriangulationIsExact(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		at := PlanePoint{rapid.Float64Range(-80, 80).Draw(t, "x"), rapid.Float64Range(-50, 50).Draw(t, "y")}
		depth := rapid.Float64Range(-3, 25).Draw(t, "depth")
		var sights []Sight
		for _, s := range threeViews() {
			camera := &Camera{Position: PlanePoint{s.camera[0], s.camera[1]}, Height: s.camera[2],
				Focal: Focal{1500, 0}}
			// the camera, the point seen and the bottom lie on one line
			shrink := camera.Height / (camera.Height + depth)
			seen := PlanePoint{s.camera[0] + (at.X-s.camera[0])*shrink, s.camera[1] + (at.Y-s.camera[1])*shrink}
			sights = append(sights, Sight{camera, seen, Covariance2{{0.01, 0.002}, {0.002, 0.02}}})
		}
		got, err := Triangulate(sights, Depth{})
		require.NoError(t, err)
		assert.InDelta(t, 0, got.Point.Distance(at), rounding)
		assert.InDelta(t, depth, got.Depth, rounding)
		assert.Equal(t, 3, got.DegreesOfFreedom)
		for _, r := range got.Rays {
			assert.InDelta(t, 0, r.Normalised, 1e-5)
		}
	})
}

// TestTriangulationCoverage: the normalised error of (X, Y, depth) sums to a
// chi-square with 3 degrees of freedom a trial. All views share one wrong
// focal length.
func TestTriangulationCoverage(t *testing.T) {
	const trials = 120
	random := source(51)
	sum, misfit := 0.0, 0.0
	for range trials {
		at, depth := PlanePoint{-58, 6}, 13+4*random.NormFloat64()
		wrong := math.Exp(FocalU35 * random.NormFloat64())
		var sights []Sight
		for _, s := range threeViews() {
			s.drawLens(random)
			s.focal *= wrong
			stated := s.focal / wrong
			sights = append(sights, sight(t, s, Focal{stated, FocalU35 * stated}, at, depth, 0.15, random))
		}
		got, err := Triangulate(sights, Depth{13, 4})
		require.NoError(t, err)
		d := []float64{got.Point.X - at.X, got.Point.Y - at.Y, got.Depth - depth}
		sum += mahalanobis(t, got.Covariance, d)
		misfit += got.Misfit * float64(got.DegreesOfFreedom)
	}
	assertChiSquare(t, sum, 3*trials, "point")
	assertChiSquare(t, misfit, 4*trials, "misfit")
}

func TestTriangulationNamesTheWrongRay(t *testing.T) {
	random := source(61)
	var sights []Sight
	for _, s := range append(threeViews(), threeViews()...) {
		sights = append(sights, sight(t, s, Focal{s.focal, 60}, PlanePoint{50, 0}, 14, 0.1, random))
	}
	sights[4].Seen.Y += 12 // another dent was taken
	got, err := Triangulate(sights, Depth{13, 4})
	require.NoError(t, err)
	for i, r := range got.Rays {
		if i != 4 {
			assert.Less(t, r.Normalised, got.Rays[4].Normalised)
		}
	}
	assert.Greater(t, got.Misfit, 3.0, "twelve rows off by about five standard uncertainties each way")
}

func TestTriangulationFallsBackOnItsPrior(t *testing.T) {
	random := source(71)
	s := phone()
	one := sight(t, s, Focal{s.focal, 60}, PlanePoint{50, 0}, 14, 0.1, random)
	_, err := Triangulate([]Sight{one}, Depth{})
	require.ErrorIs(t, err, ErrUnsolvable)
	_, err = Triangulate(nil, Depth{13, 4})
	require.ErrorIs(t, err, ErrUnsolvable)
	_, err = Triangulate([]Sight{one, one}, Depth{})
	require.ErrorIs(t, err, ErrUnsolvable, "twice from one place")

	got, err := Triangulate([]Sight{one}, Depth{13, 4})
	require.NoError(t, err)
	assert.InDelta(t, 13, got.Depth, rounding, "one ray says nothing of the depth")
	assert.InEpsilon(t, 4, got.UDepth(), 1e-6)
	c, gain := one.Camera, (one.Camera.Height+13)/one.Camera.Height
	want := PlanePoint{c.Position.X + (one.Seen.X-c.Position.X)*gain, c.Position.Y +
		(one.Seen.Y-c.Position.Y)*gain}
	assert.InDelta(t, 0, got.Point.Distance(want), rounding)

	bad := one
	bad.Covariance = Covariance2{}
	_, err = Triangulate([]Sight{one, bad}, Depth{13, 4})
	assert.ErrorContains(t, err, "sight 1")
	_, err = Triangulate([]Sight{one}, Depth{math.NaN(), 4})
	assert.Error(t, err)
}
