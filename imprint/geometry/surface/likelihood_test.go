package surface

import (
	"math"
	"math/rand/v2"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"gonum.org/v1/gonum/diff/fd"
)

// dotsAndPatches are heights of either kind.
func dotsAndPatches() []Height {
	random := rand.New(rand.NewPCG(41, 42))
	z := cup(40, 8, 120)
	return append(scattered(random, 0.03, z), patched(random, z, 2.75, 3.5, 10, 0.05, 0.05)...)
}

func TestSlopesOfTheCostAreItsDifferences(t *testing.T) {
	s := &Surface{heights: dotsAndPatches(), PatchFactor: 1}
	s.measure()
	x := []float64{math.Log(28), math.Log(4), math.Log(0.06), math.Log(1.3)}
	l := newLikelihood(s, len(x))
	l.differentiate(x)
	slopes := append([]float64(nil), l.slopes...)
	for k, d := range fd.Gradient(nil, l.costAt, x, &fd.Settings{Formula: fd.Central, Step: 1e-4}) {
		// rounding: 1e-13 of the covariance's condition, some 1e8, over the step
		assert.InDelta(t, d, slopes[k], 1e-3*math.Max(1, math.Abs(d)), "parameter %d", k)
	}
}

func TestLearnEndsWhereTheHeightsAreLikeliest(t *testing.T) {
	s := &Surface{heights: dotsAndPatches(), PatchFactor: 1}
	require.NoError(t, s.learn(true))
	require.GreaterOrEqual(t, len(s.heights), thin*least, "it began with a part of them")
	x := []float64{math.Log(s.Length), math.Log(s.Amplitude), math.Log(s.Roughness), math.Log(s.PatchFactor)}
	l := newLikelihood(s, len(x))
	least := l.costAt(x)
	for k := range x {
		for _, step := range []float64{-0.1, 0.1} {
			aside := append([]float64(nil), x...)
			aside[k] += step
			assert.Greater(t, l.costAt(aside), least-0.001, "parameter %d by %g", k, step)
		}
	}
}

// The step that ends the search leads on to the top, and only from where little is to be gained.
func TestTheLastStepLeadsToTheTop(t *testing.T) {
	s := &Surface{heights: dotsAndPatches(), PatchFactor: 1}
	require.NoError(t, s.learn(false))
	top := []float64{math.Log(s.Length), math.Log(s.Amplitude), math.Log(s.Roughness)}
	l := newLikelihood(s, len(top))
	l.differentiate(top)
	least := l.cost
	aside := math.Sqrt(enough / 2 / l.curvature.At(roughness, roughness)) // some 0.3 of it to be gained
	l.differentiate([]float64{top[0], top[1], top[2] + aside})
	require.NotNil(t, l.last)
	off := l.cost - least
	require.Greater(t, off, enough/5)
	assert.Less(t, l.costAt(l.last)-least, 0.001, "what the comment there claims")
	l.differentiate([]float64{top[0] + 0.1, top[1], top[2]})
	assert.Nil(t, l.last)
}

// Points that are mistaken for each other lie anywhere between the frame and the deepest dent.
func TestHeightsAtRandomAreUnrelatedAndNotRough(t *testing.T) {
	random := rand.New(rand.NewPCG(43, 44))
	list := scattered(random, 0.05, func(x, y float64) float64 { return 30 * random.Float64() })
	s, err := Fit(list, nil)
	require.NoError(t, err)
	assert.True(t, s.Unrelated(), "length %.1f mm, roughness %.2f mm", s.Length, s.Roughness)
	assert.Less(t, s.Roughness, 2*roughest)
}

// h^4/384 times the fourth derivative, 1 at the most, is 6e-13.
func TestAlikeIsMaternsCorrelation(t *testing.T) {
	const length = 20.0
	for d := 0.0; d < 400; d += 0.137 {
		x := math.Sqrt(7) * d / length
		want := (1 + x + 0.4*x*x + x*x*x/15) * math.Exp(-x)
		assert.InDelta(t, want, alike(d, length), 1e-12, "d = %g", d)
		slope := (alike(d, length+1e-3) - alike(d, length-1e-3)) / 2e-3 * length
		assert.InDelta(t, slope, alikeByLength(d, length), 1e-5, "d = %g", d)
	}
}

// Lengths found through points some 9 mm apart: the shortest of a pad's own, and one of chance dots.
func TestUnrelatedPartsShortLengthsFromNone(t *testing.T) {
	s := &Surface{heights: scattered(rand.New(rand.NewPCG(45, 46)), 0.05, cup(40, 8, 120)), Length: 15.4}
	assert.False(t, s.Unrelated())
	s.Length = 9.75 * 9 / 13
	assert.True(t, s.Unrelated())
}
