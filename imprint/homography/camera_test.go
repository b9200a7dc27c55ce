package homography

import (
	"math"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"gonum.org/v1/gonum/mat"
	"gonum.org/v1/gonum/stat/distuv"
)

func TestFocalFrom35mm(t *testing.T) {
	// CIPA DCG-001 (by the diagonal, as public summaries of it say): the diagonal of 36 x 24 mm is 43.2666 mm,
	// so a picture of 3600 x 2400 px has 100 px/mm: 26 mm are 2600 px.
	f, err := FocalFrom35mm(26, 3600, 2400)
	require.NoError(t, err)
	assert.InEpsilon(t, 2600, f.Pixels, 1e-6, "the constant has 6 digits")
	assert.InEpsilon(t, 0.04, f.U/f.Pixels, 1e-12)
	for _, bad := range []float64{0, -1, math.NaN(), math.Inf(1)} {
		_, err := FocalFrom35mm(bad, 3600, 2400)
		assert.Error(t, err)
	}
	_, err = FocalFrom35mm(26, 0, 2400)
	assert.Error(t, err)
	assert.Less(t, math.Log(50.0/26), 2*FocalUnknown(3600, 2400).relative(), "50 mm is no surprise")
}

func TestCombineFocal(t *testing.T) {
	for _, c := range []struct {
		name               string
		stated, homography Focal
		want               Focal
		verdict            FocalVerdict
	}{
		// Equal weights: the geometric mean, u / sqrt(2).
		{"agree", Focal{1000, 40}, Focal{1010, 40.4}, Focal{math.Sqrt(1000 * 1010),
			math.Sqrt(1000*1010) * 0.04 / math.Sqrt2}, FocalAgrees},
		{"cropped", Focal{1000, 40}, Focal{1300, 26}, Focal{1300, 26}, FocalOverruled},
		{"in doubt", Focal{1000, 40}, Focal{1800, 180}, Focal{1000, 1000 * math.Log(1.8)}, FocalInDoubt},
	} {
		t.Run(c.name, func(t *testing.T) {
			got, normalised, verdict := CombineFocal(c.stated, c.homography)
			assert.Equal(t, c.verdict, verdict)
			assert.InEpsilon(t, c.want.Pixels, got.Pixels, 1e-12)
			assert.InEpsilon(t, c.want.U, got.U, 1e-12)
			assert.Equal(t, verdict != FocalAgrees, normalised > 2.5)
		})
	}
}

func TestCameraIsExactOnExactCorners(t *testing.T) {
	for name, s := range map[string]scene{
		"frontal": {width: 2016, height: 1512, focal: 1514, camera: [3]float64{0, 0, 300}},
		"typical": phone(),
		"upside down, from 1 m": {width: 4032, height: 3024, focal: 6060, camera: [3]float64{-80, 40, 1000},
			tilt: -8, turn: 6, yaw: 178, k1: -0.03},
		"oblique": {width: 2016, height: 1512, focal: 1514, camera: [3]float64{200, 150, 350}, tilt: 22, turn: 28,
			yaw: 90, k1: 0.02},
	} {
		t.Run(name, func(t *testing.T) {
			fit := mustFit(t, s.corners(nil, 0, nil), Options{Width: s.width, Height: s.height,
				Lens: LensPrior{UK1: 0.1, UK2: 0.01, UPrincipal: 1e-5}})
			camera, err := fit.CameraFrom(Focal{s.focal, 0.001})
			require.NoError(t, err)
			// The noise floor of 0.02 px lets the priors pull; claimed
			// uncertainty is the bound.
			u := camera.Covariance
			assert.InDelta(t, s.camera[0], camera.Position.X, math.Sqrt(u[0][0]))
			assert.InDelta(t, s.camera[1], camera.Position.Y, math.Sqrt(u[1][1]))
			assert.InDelta(t, s.camera[2], camera.Height, math.Sqrt(u[2][2]))
			assert.Less(t, camera.UHeight(), 0.1, "and that is small, mm")
			axis := rotate(rotate(rotate([3]float64{0, 0, 1}, 1, 2, s.tilt), 2, 0, s.turn), 0, 1, s.yaw)
			assert.InDelta(t, math.Acos(axis[2])*180/math.Pi, camera.TiltDegrees, 0.02)
			r := matrix3(camera.Rotation)
			assert.InDelta(t, 1, r.determinant(), 1e-12)
		})
	}
}

// TestCameraCoverage: the position's normalised error, a chi-square with 3
// degrees of freedom a trial; lens, print, focal length and noise drawn from
// what the fit assumes of them.
func TestCameraCoverage(t *testing.T) {
	const trials = 200
	random := source(31)
	sum, focal := 0.0, 0.0
	for range trials {
		s := phone()
		s.tilt, s.turn = 8*random.NormFloat64(), 8*random.NormFloat64()
		s.drawLens(random)
		s.drawPrint(random)
		stated := s.focal
		s.focal *= math.Exp(FocalU35 * random.NormFloat64())
		fit := mustFit(t, s.corners(random, 0.2, nil), s.options())
		camera, err := fit.CameraFrom(Focal{stated, FocalU35 * stated})
		require.NoError(t, err)
		d := []float64{camera.Position.X - s.camera[0], camera.Position.Y - s.camera[1],
			camera.Height - s.camera[2]}
		sum += mahalanobis(t, camera.Covariance, d)
		focal += math.Pow((camera.Focal.Pixels-s.focal)/camera.Focal.U, 2)
	}
	assertChiSquare(t, sum, 3*trials, "position")
	assertChiSquare(t, focal, trials, "focal length")
}

// assertChiSquare holds a sum of squares within its 99.9 % interval, widened
// by 86/84 for the noise estimated with 86 degrees of freedom (TestCoverage).
func assertChiSquare(t *testing.T, sum float64, dof int, name string) {
	t.Helper()
	chi := distuv.ChiSquared{K: float64(dof)}
	assert.Greater(t, sum, chi.Quantile(0.0005), name)
	assert.Less(t, sum, chi.Quantile(0.9995)*86/84, name)
}

func mahalanobis(t *testing.T, c [3][3]float64, d []float64) float64 {
	t.Helper()
	m := mat.NewSymDense(3, nil)
	for i := range 3 {
		for j := i; j < 3; j++ {
			m.SetSym(i, j, c[i][j])
		}
	}
	var chol mat.Cholesky
	require.True(t, chol.Factorize(m))
	var x mat.VecDense
	v := mat.NewVecDense(3, d)
	require.NoError(t, chol.SolveVecTo(&x, v))
	return mat.Dot(v, &x)
}

func TestFocalFromObliqueHomographies(t *testing.T) {
	random := source(41)
	const trials = 150
	sum := 0.0
	for range trials {
		s := phone()
		s.camera = [3]float64{0, 160, 330}
		s.tilt = 25
		s.drawLens(random)
		s.drawPrint(random)
		fit := mustFit(t, s.corners(random, 0.15, nil), s.options())
		focal, err := fit.FocalFromHomography()
		require.NoError(t, err)
		// In logarithms, where the estimate is nearer to Gaussian.
		sum += math.Pow(math.Log(focal.Pixels/s.focal)/focal.relative(), 2)
	}
	assertChiSquare(t, sum, trials, "focal length")

	frontal := phone()
	frontal.tilt, frontal.turn = 0, 0
	_, err := mustFit(t, frontal.corners(random, 0.15, nil), frontal.options()).FocalFromHomography()
	assert.ErrorIs(t, err, ErrFrontal)
}

// TestFrontalViewsDoNotContradictEXIF: from nearly above, the estimate must be
// withheld rather than wrong. With no limit on the obliqueness 13 of 100 of
// these views would contradict the right focal length, and 11 if the print
// were taken to be true to shape.
func TestFrontalViewsDoNotContradictEXIF(t *testing.T) {
	random := source(81)
	const trials = 100
	contradicted := 0
	for range trials {
		s := phone()
		s.tilt, s.turn = 2*random.NormFloat64(), 2*random.NormFloat64()
		s.drawLens(random)
		s.drawPrint(random)
		fit := mustFit(t, s.corners(random, 0.3, nil), s.options())
		camera, err := fit.CameraFrom(Focal{s.focal, FocalU35 * s.focal})
		require.NoError(t, err)
		if camera.FocalVerdict == FocalOverruled || camera.FocalVerdict == FocalInDoubt {
			contradicted++
		}
	}
	// 2.5 standard uncertainties: 1.2 % by chance.
	byChance := distuv.Binomial{N: trials, P: 0.0124}
	assert.Greater(t, 1-byChance.CDF(float64(contradicted-1)), 0.01, "%d of %d", contradicted, trials)
}

// TestAStretchedPrintFromAboveDoesNotContradictEXIF: a print a little longer
// along one axis, seen straight from above by a sharp picture, looks tilted and
// far away. The camera's height is that of the stated focal length all the
// same, to a tenth of its uncertainty, which is the focal length's own: H is
// proportional to f.
func TestAStretchedPrintFromAboveDoesNotContradictEXIF(t *testing.T) {
	random := source(91)
	for _, stretch := range []float64{-2.5 * uStretch, -0.0003, 0.0003, 2.5 * uStretch} {
		for _, tilt := range []float64{0, 0.05, 0.5, 2} {
			s := phone()
			s.tilt, s.turn, s.stretch = tilt, 0, stretch
			fit := mustFit(t, s.corners(random, 0.02, nil), s.options())
			camera, err := fit.CameraFrom(Focal{s.focal, FocalU35 * s.focal})
			require.NoError(t, err)
			assert.Contains(t, []FocalVerdict{FocalStated, FocalAgrees}, camera.FocalVerdict, "%v at %v degrees",
				stretch, tilt)
			assert.InDelta(t, 300, camera.Height, 0.1*0.04*300, "%v at %v degrees", stretch, tilt)
			assert.InEpsilon(t, 0.04*300, camera.UHeight(), 0.01, "%v at %v degrees", stretch, tilt)
		}
	}
}

func TestCroppedPictureOverrulesEXIF(t *testing.T) {
	// The right focal length in px is 1514; a crop to 60 % of the diagonal
	// makes EXIF's 26 mm claim 909.
	s := phone()
	s.camera, s.tilt = [3]float64{0, 160, 330}, 25
	fit := mustFit(t, s.corners(source(1), 0.1, nil), s.options())
	camera, err := fit.CameraFrom(Focal{0.6 * s.focal, FocalU35 * 0.6 * s.focal})
	require.NoError(t, err)
	assert.Equal(t, FocalOverruled, camera.FocalVerdict)
	assert.Greater(t, camera.FocalError, 2.5)
	assert.InDelta(t, s.focal, camera.Focal.Pixels, 3*camera.Focal.U, "99.7 % of a Gaussian")
	assert.InDelta(t, 330, camera.Height, 3*camera.UHeight())
}

func TestHeightFollowsTheFocalLength(t *testing.T) {
	// Seen frontally, H is proportional to f: dH/dlnf = H.
	s := phone()
	s.tilt, s.turn, s.camera = 0, 0, [3]float64{0, 0, 300}
	fit := mustFit(t, s.corners(source(1), 0.1, nil), s.options())
	camera, err := fit.CameraFrom(Focal{s.focal, FocalU35 * s.focal})
	require.NoError(t, err)
	assert.InEpsilon(t, camera.Height, camera.ByFocal[2], 0.01)
	assert.InEpsilon(t, 0.04*300, camera.UHeight(), 0.02, "4 % of the height, the marks adding little")
	_, err = fit.CameraFrom(Focal{})
	assert.Error(t, err)
}
