package homography

import (
	"math"
	"math/rand/v2"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"gonum.org/v1/gonum/stat/distuv"
)

// entered is a phone's view by a lens of true35 mm, from as far as the frame fills the picture.
func entered(true35 float64) scene {
	s := phone()
	s.focal *= true35 / 26
	s.camera[2] *= true35 / 26
	return s
}

// unchecked is its camera, where nothing confirms the entry.
func unchecked(t *testing.T, s scene, f35 float64, random *rand.Rand) *Camera {
	t.Helper()
	stated, err := FocalFrom35mm(f35, s.width, s.height)
	require.NoError(t, err)
	c, err := mustFit(t, s.corners(random, 0.1, nil), s.options()).CameraUnchecked(stated, f35)
	require.NoError(t, err)
	return c
}

// From straight above the frame tells nothing: an entry is worth what FocalUUnchecked says, in the parallax's
// 1/H, within a fifth. From the side it tells the one lens from the other.
func TestAnEntryIsAsSureAsTheViewCanMakeIt(t *testing.T) {
	for _, f35 := range []float64{26, 52} {
		s := entered(f35)
		s.tilt, s.turn = 0, 0
		c := unchecked(t, s, f35, source(7))
		assert.InEpsilon(t, s.camera[2], c.Height, 0.04, "%v mm from above", f35)
		assert.InEpsilon(t, FocalUUnchecked(f35), c.UHeight()/c.Height, 0.2, "%v mm from above", f35)

		s.tilt, s.turn = 12, -8
		c = unchecked(t, s, f35, source(7))
		assert.InEpsilon(t, s.camera[2], c.Height, 2*FocalU35, "%v mm from the side", f35)
		assert.Less(t, c.UHeight(), 1.5*FocalU35*c.Height, "%v mm from the side", f35)
	}
}

// Another lens's entry is found out from the side, and the height with it.
func TestAnotherLensesEntryIsFoundOut(t *testing.T) {
	for _, c := range []struct{ stated, is float64 }{{52, 26}, {26, 52}} {
		s := entered(c.is)
		s.tilt, s.turn = 12, -8
		camera := unchecked(t, s, c.stated, source(8))
		assert.InDelta(t, s.camera[2], camera.Height, 2*camera.UHeight(), "%v mm for %v", c.stated, c.is)
		assert.Less(t, camera.UHeight(), 0.1*camera.Height, "%v mm for %v", c.stated, c.is)
		assert.Equal(t, FocalOverruled, camera.FocalVerdict)
	}
}

// Without an entry the frame tells either lens from the side; from above it is neither, and both lie within
// two standard uncertainties of the parallax's 1/H.
func TestWithoutAnEntryTheFrameTells(t *testing.T) {
	for _, f35 := range []float64{26, 52} {
		s := entered(f35)
		s.tilt, s.turn = 12, -8
		c := unstatedCamera(t, s, source(9))
		assert.InEpsilon(t, s.camera[2], c.Height, 0.1, "%v mm from the side", f35)
		assert.Less(t, c.UHeight(), 0.1*c.Height, "%v mm from the side", f35)

		s.tilt, s.turn = 0, 0
		c = unstatedCamera(t, s, source(9))
		assert.InDelta(t, 1/s.camera[2], 1/c.Height, 2*c.UHeight()/(c.Height*c.Height), "%v mm from above", f35)
		assert.Greater(t, c.UHeight(), 0.2*c.Height, "%v mm from above", f35)
	}
}

// unstatedCamera is a view's camera, where the file says nothing of it.
func unstatedCamera(t *testing.T, s scene, random *rand.Rand) *Camera {
	t.Helper()
	c, err := mustFit(t, s.corners(random, 0.1, nil), s.options()).CameraUnstated(s.width, s.height)
	require.NoError(t, err)
	return c
}

func TestUncheckedCoverage(t *testing.T) {
	random := source(19)
	covers(t, random, func() (float64, []belief, func(scene) *Camera) {
		f35 := []float64{26, 52}[random.IntN(2)]
		return f35, beliefs(Focal{1, 1}, f35), func(s scene) *Camera { return unchecked(t, s, f35, random) }
	})
}

// The lenses weighed are nearer the parallax's 1/H than the one guess that holds them all.
func TestUnstatedCoverage(t *testing.T) {
	random := source(20)
	main, weighed, guessed := FocalUnknown(1000, 1000).Pixels, 0.0, 0.0
	covers(t, random, func() (float64, []belief, func(scene) *Camera) {
		list := unstated(1000, 1000)
		for i, b := range list {
			list[i] = believed(b.focal.Pixels/main, b.focal.relative(), b.share)
		}
		return 26, list, func(s scene) *Camera {
			fit := mustFit(t, s.corners(random, 0.1, nil), s.options())
			c, err := fit.CameraUnstated(s.width, s.height)
			require.NoError(t, err)
			guess, err := fit.CameraFrom(FocalUnknown(s.width, s.height))
			require.NoError(t, err)
			weighed += math.Pow(s.camera[2]/c.Height-1, 2)
			guessed += math.Pow(s.camera[2]/guess.Height-1, 2)
			return c
		}
	})
	assert.Less(t, math.Sqrt(weighed), 0.8*math.Sqrt(guessed))
	t.Logf("root mean square, relative: %.3f and %.3f", math.Sqrt(weighed/trials), math.Sqrt(guessed/trials))
}

const trials = 300

// covers draws focal lengths as the shares have them, and views as riders' photos are. 1/H, to which the
// parallax is proportional, must lie within two standard uncertainties in 95 % of views; and what the focal
// length gives the camera is no more than the whole of its covariance.
func covers(t *testing.T, random *rand.Rand, next func() (float64, []belief, func(scene) *Camera)) {
	t.Helper()
	outside := 0
	for range trials {
		f35, list, find := next()
		ratio, draw := 1.0, random.Float64()
		for _, b := range list {
			if draw -= b.share; draw < 0 {
				ratio = b.focal.Pixels * math.Exp(b.focal.relative()*random.NormFloat64())
				break
			}
		}
		s := entered(f35 * ratio)
		s.tilt, s.turn = 5*random.NormFloat64(), 5*random.NormFloat64()
		s.drawLens(random)
		s.drawPrint(random)
		c := find(s)
		if math.Abs(1/c.Height-1/s.camera[2]) > 2*c.UHeight()/(c.Height*c.Height) {
			outside++
		}
		v := c.Focal.relative() * c.Focal.relative()
		for i := range 3 {
			assert.GreaterOrEqual(t, c.Covariance[i][i]*(1+1e-9), v*c.ByFocal[i]*c.ByFocal[i])
		}
	}
	chance := distuv.Binomial{N: trials, P: 0.05}
	assert.Greater(t, 1-chance.CDF(float64(outside-1)), 0.01, "%d of %d outside", outside, trials)
	t.Logf("%d of %d outside", outside, trials)
}
