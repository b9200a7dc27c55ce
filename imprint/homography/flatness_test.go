package homography

import (
	"math"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// flatnessOver returns the rms estimate of Flatness over trials of a frame
// whose marks are lifted, the rms of the lifts about their mean, and the rms
// of the limit.
func flatnessOver(t *testing.T, trials int, lift func(trial int) func(x, y float64) float64) (u, truth,
	limit float64) {
	t.Helper()
	random := source(21)
	for trial := range trials {
		s := phone()
		s.drawLens(random)
		height := lift(trial)
		fit := mustFit(t, s.corners(random, 0.1, height), s.options())
		camera, err := fit.CameraFrom(Focal{s.focal, 0.04 * s.focal})
		require.NoError(t, err)
		flat := fit.Flatness(camera)
		require.True(t, flat.Known)
		u += flat.U * flat.U / float64(trials)
		limit += flat.Limit * flat.Limit / float64(trials)
		mean, square := 0.0, 0.0
		for _, c := range markCentres {
			mean += height(c.X, c.Y) / 12
			square += math.Pow(height(c.X, c.Y), 2) / 12
		}
		truth += (square - mean*mean) / float64(trials)
	}
	return math.Sqrt(u), math.Sqrt(truth), math.Sqrt(limit)
}

func TestFlatnessOfIndependentHeights(t *testing.T) {
	const trials = 60
	random := source(5)
	u, truth, _ := flatnessOver(t, trials, func(int) func(x, y float64) float64 {
		var heights [12]float64
		for i := range heights {
			heights[i] = 0.2 * random.NormFloat64()
		}
		return func(x, y float64) float64 {
			for i, c := range markCentres {
				if math.Abs(x-c.X) <= 10 && math.Abs(y-c.Y) <= 10 {
					return heights[i]
				}
			}
			return 0
		}
	})
	// The mean square has at least 10 degrees of freedom a trial: 600 in all,
	// so its root varies by 1/sqrt(1200), 3 %; three of those. The marks'
	// removed mean takes 1/24 of the truth.
	assert.InEpsilon(t, truth, u, 3*0.03+0.04)
}

func TestFlatnessOfAFlatFrame(t *testing.T) {
	const trials = 60
	flat := func(int) func(x, y float64) float64 { return func(x, y float64) float64 { return 0 } }
	u, _, limit := flatnessOver(t, trials, flat)
	assert.Less(t, u, limit, "noise alone stays below its own 95 % limit on average")
}

func TestFlatnessOfAnArchedFrame(t *testing.T) {
	u, truth, _ := flatnessOver(t, 30, func(int) func(x, y float64) float64 {
		return func(x, y float64) float64 { return 0.8 * x * x / (130 * 130) }
	})
	// The documented weakness: an arch along the frame shows about half.
	assert.Greater(t, u, truth/3)
	assert.Less(t, u, truth)
}

func TestFlatnessIsUnknownFromFewMarks(t *testing.T) {
	s := phone()
	fit := mustFit(t, s.corners(source(1), 0.1, nil), s.options())
	camera, err := fit.CameraFrom(Focal{s.focal, 60})
	require.NoError(t, err)
	assert.True(t, fit.Flatness(camera).Known)
	single := mustFit(t, thin(s.corners(source(1), 0.1, nil)), s.options())
	assert.False(t, single.Flatness(camera).Known, "single points do not show the corners' noise")
}

// thin keeps one corner of each mark.
func thin(points []Correspondence) []Correspondence {
	var out []Correspondence
	for i := 0; i < len(points); i += 4 {
		out = append(out, points[i])
	}
	return out
}
