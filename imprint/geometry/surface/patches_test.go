package surface

import (
	"math"
	"math/rand/v2"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// patched are patches of a radius, step mm apart within reach of either bottom: each is the mean of a white
// noise over its disc, of standard deviation u, and all lie deeper by shift.
func patched(random *rand.Rand, z func(x, y float64) float64, radius, step, reach, u, shift float64,
) (list []Height) {
	const cell = 0.5 // mm of the noise
	cells := map[[2]int]float64{}
	n := math.Pi * radius * radius / (cell * cell)
	noise := func(x, y float64) (sum float64) {
		for j := int((y - radius) / cell); j <= int((y+radius)/cell); j++ {
			for i := int((x - radius) / cell); i <= int((x+radius)/cell); i++ {
				if math.Hypot(float64(i)*cell-x, float64(j)*cell-y) > radius {
					continue
				}
				at := [2]int{i, j}
				if _, known := cells[at]; !known {
					cells[at] = random.NormFloat64()
				}
				sum += cells[at]
			}
		}
		return sum / math.Sqrt(n)
	}
	for _, side := range []float64{-60, 60} {
		for y := -reach; y <= reach; y += step {
			for x := side - reach; x <= side+reach; x += step {
				list = append(list, Height{X: x, Y: y, Z: z(x, y) + shift + u*noise(x, y), U: u, Patch: radius})
			}
		}
	}
	return list
}

// alone are the same heights, each taken for a point of its own.
func alone(list []Height) (out []Height) {
	for _, h := range list {
		h.Patch = 0
		out = append(out, h)
	}
	return out
}

func TestPatchesThatAllLieTooDeepDoNotMoveTheDots(t *testing.T) {
	random := rand.New(rand.NewPCG(31, 32))
	z := cup(40, 8, 120)
	list := append(scattered(random, 0.02, z), patched(random, z, 2.75, 3.5, 14, 0.02, 0.15)...)
	for _, shared := range []bool{true, false} {
		heights := list
		if !shared {
			heights = alone(list)
		}
		s, err := Fit(heights, nil)
		require.NoError(t, err)
		for _, x := range []float64{-60, 60} {
			off, u := s.At(x, 0)-z(x, 0), s.UAt(x, 0)
			t.Logf("shared %v: off by %.3f mm at u = %.3f mm, factor %.2f", shared, off, u, s.PatchFactor)
			if shared {
				assert.Less(t, math.Abs(off), 2*u)
			} else {
				assert.Greater(t, off, 3*u, "as a point of its own each patch counts against the dots")
			}
		}
	}
}

func TestWrongPatchesAreCutAndDoNotPassForNoise(t *testing.T) {
	random := rand.New(rand.NewPCG(35, 36))
	z := cup(80, 6, 120)
	var list []Height
	for y := -64.0; y <= 64; y += 7.5 {
		for x := -100.0; x <= 100; x += 7.5 {
			list = append(list, Height{X: x, Y: y, Z: z(x, y) + 0.08*random.NormFloat64(), U: 0.08, Patch: 4.5})
		}
	}
	wrong := []int{30, 77, 141, 190, 233, 301, 377, 420}
	for _, k := range wrong {
		list[k].Z += 3 + 4*random.Float64()
	}
	s, err := Fit(list, nil)
	require.NoError(t, err)
	assert.Subset(t, s.Cut, wrong)
	// The noise that is found, by the factor and the roughness together, is what was put in: from 450 heights
	// it is known to 1/sqrt(2 x 450), 3.3 %. Eight wrong ones of 5 mm, not cut, would make it eight times that.
	noise := math.Hypot(s.PatchFactor*0.08, s.Roughness)
	t.Logf("factor %.2f, roughness %.3f mm, noise %.3f mm", s.PatchFactor, s.Roughness, noise)
	assert.InDelta(t, 0.08, noise, 3*0.033*0.08)
	_, _, err = s.Deepest(all)
	require.NoError(t, err)
}

func TestFitBeginsWithASurfaceLikeIt(t *testing.T) {
	random := rand.New(rand.NewPCG(37, 38))
	z := cup(40, 8, 120)
	dots := scattered(random, 0.02, z)
	first, err := Fit(dots, nil)
	require.NoError(t, err)
	list := append(dots, patched(random, z, 2.75, 3.5, 14, 0.06, 0)...)
	anew, err := Fit(list, nil)
	require.NoError(t, err)
	on, err := Fit(list, first)
	require.NoError(t, err)
	for _, x := range []float64{-60, -48, 0, 57, 60} {
		assert.InDelta(t, anew.At(x, 3), on.At(x, 3), anew.UAt(x, 3), "x = %g", x)
	}
}

func TestOverlapOfDiscs(t *testing.T) {
	assert.InDelta(t, 1, overlap(0, 3), 1e-12)
	assert.Zero(t, overlap(6, 3))
	assert.Zero(t, overlap(60, 3))
	// Two circles of radius 1 with middles 1 apart: 2 pi / 3 - sqrt(3) / 2 of pi (Weisstein, Circle-Circle
	// Intersection, MathWorld, equation 14; from memory).
	assert.InDelta(t, (2*math.Pi/3-math.Sqrt(3)/2)/math.Pi, overlap(1, 1), 1e-12)
}
