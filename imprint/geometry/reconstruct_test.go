package geometry

import (
	"math"
	"math/rand/v2"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"sitspan/imprint/geometry/surface"
)

var bounds = surface.Bounds{HalfWidth: 104, HalfHeight: 66}

// truth is the deepest point of a made pad near a place, by search.
func truth(p pad, x, y float64) (float64, float64) {
	for step := 2.0; step > 1e-4; step /= 2 {
		for moved := true; moved; {
			moved = false
			for _, d := range [][2]float64{{step, 0}, {-step, 0}, {0, step}, {0, -step}} {
				if p(x+d[0], y+d[1]) > p(x, y) {
					x, y, moved = x+d[0], y+d[1], true
				}
			}
		}
	}
	return x, y
}

func TestReconstructFindsBothDeepestPoints(t *testing.T) {
	random := rand.New(rand.NewPCG(1, 2))
	var squares, ratios float64
	const n = 12
	for range n {
		p := bells([2]float64{-58 + 8*random.NormFloat64(), 5 * random.NormFloat64()},
			[2]float64{58 + 8*random.NormFloat64(), 5 * random.NormFloat64()}, 14+10*random.Float64(), 5+9*random.Float64())
		m := made{pad: p, cameras: usual(random), noise: 0.06, bow: 0.5, rough: 0.02, spotless: 0.05, moved: -1}
		r, err := Reconstruct(m.photos(random), bounds)
		require.NoError(t, err)
		u, err := r.Uncertainty()
		require.NoError(t, err)
		lx, ly := truth(p, r.Left.X, r.Left.Y)
		rx, ry := truth(p, r.Right.X, r.Right.Y)
		d := math.Hypot(r.Right.X-r.Left.X, r.Right.Y-r.Left.Y) - math.Hypot(rx-lx, ry-ly)
		squares += d * d / n
		ratios += d * d / (u.Whole * u.Whole) / n
		assert.Less(t, math.Abs(d), 4*u.Whole, "error %.3f mm at u = %.3f mm", d, u.Whole)
	}
	t.Logf("rms %.3f mm, %.2f of the stated u", math.Sqrt(squares), math.Sqrt(ratios))
	// The mean square of 12 normalised errors lies below 2.2 in 99 of 100 honest cases (chi-square, 12 degrees of freedom).
	assert.Less(t, ratios, 2.2)
}
