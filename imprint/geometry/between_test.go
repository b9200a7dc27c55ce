package geometry

import (
	"math"
	"math/rand/v2"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"sitspan/imprint/geometry/bundle"
	"sitspan/imprint/geometry/dots"
	"sitspan/imprint/geometry/raster"
	"sitspan/imprint/geometry/surface"
)

// pressed is a pad with two balls pressed into it: steep walls and a round bottom, which dots 9 mm apart
// sample poorly, and a rim that no smooth surface has.
func pressed(left, right [2]float64, radius, depth float64) pad {
	return func(x, y float64) float64 {
		deep := 0.0
		for _, c := range [][2]float64{left, right} {
			if d := math.Hypot(x-c[0], y-c[1]); d < radius {
				deep = math.Max(deep, depth-radius+math.Sqrt(radius*radius-d*d))
			}
		}
		return deep
	}
}

// shown are the photos with their pictures; grain is what the pad shows between the dots.
func (m made) shown(random *rand.Rand, photos []Photo, grain func(x, y float64) float64) []Photo {
	out := append([]Photo{}, photos...)
	for v, c := range m.cameras {
		w := raster.Window{HalfWidth: 106, HalfHeight: 70, Sample: c.distance / c.focal(),
			Place: func(x, y float64) dots.Pixel { return c.show(bundle.Vec{x, y, 0}) }}
		out[v].Raster = raster.Of(m.picture(random, c, grain), w)
	}
	return out
}

// The same dots, with and without a pad that shows something between them.
func TestWhatLiesBetweenDotsSharpensTheBottoms(t *testing.T) {
	random := rand.New(rand.NewPCG(21, 22))
	left, right := [2]float64{-57, 4}, [2]float64{55, -3}
	cameras := usual(random)
	for k := range cameras {
		cameras[k].width, cameras[k].height = 1512, 1134
	}
	m := made{pad: pressed(left, right, 22, 11), cameras: cameras, noise: 0.06, bow: 0.3, moved: -1}
	photos := m.photos(random)
	with := func(grain func(x, y float64) float64) (r *Relief, off, u float64) {
		r, err := Reconstruct(m.shown(random, photos, grain), bounds)
		require.NoError(t, err)
		all, err := r.Uncertainty()
		require.NoError(t, err)
		return r, math.Hypot(r.Left.X-left[0], r.Left.Y-left[1]) +
			math.Hypot(r.Right.X-right[0], r.Right.Y-right[1]), all.Whole
	}
	plain, offPlain, uPlain := with(func(x, y float64) float64 { return 0 })
	alone, err := Reconstruct(photos, bounds)
	require.NoError(t, err)
	assert.Equal(t, alone.Left, plain.Left, "a plain pad adds nothing, and changes nothing")
	finer, off, u := with(speckle(random))
	t.Logf("dots alone %d points, off by %.2f mm, u %.2f mm; with grain %d, %.2f, %.2f", plain.Points, offPlain,
		uPlain, finer.Points, off, u)
	assert.Equal(t, Dots, finer.By)
	assert.Greater(t, finer.Points, plain.Points+20)
	assert.Less(t, off, offPlain)
	d := math.Hypot(finer.Right.X-finer.Left.X, finer.Right.Y-finer.Left.Y) -
		math.Hypot(right[0]-left[0], right[1]-left[1])
	assert.Less(t, math.Abs(d), 3*u)

	assert.Zero(t, plain.Between)
	assert.Equal(t, finer.Points-plain.Points, finer.Between)
	dotted := len(finer.Heights) - finer.Between
	byDots, uDots := meanOff(m.pad, finer.Heights[:dotted], left, right)
	byGrain, uGrain := meanOff(m.pad, finer.Heights[dotted:], left, right)
	t.Logf("at the bottoms dots lie %.3f mm off, u %.3f, what lies between %.3f, u %.3f", byDots, uDots, byGrain,
		uGrain)
	assert.InDelta(t, byDots, byGrain, 3*math.Hypot(uDots, uGrain),
		"a patch at a bottom is bent; taken for a plane it lies too high")
}

// meanOff is how far heights near two bottoms lie below the pad on average, with the standard uncertainty of
// that by their own; what the cameras do to all of them alike is in it.
func meanOff(p pad, heights []surface.Height, bottoms ...[2]float64) (mean, u float64) {
	n, squares := 0.0, 0.0
	for _, h := range heights {
		for _, b := range bottoms {
			if math.Hypot(h.X-b[0], h.Y-b[1]) < 12 {
				n, mean, squares = n+1, mean+h.Z-p(h.X, h.Y), squares+h.U*h.U
			}
		}
	}
	return mean / n, math.Sqrt(squares) / n
}
