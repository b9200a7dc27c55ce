package gum

import (
	"math"
	"testing"

	"github.com/stretchr/testify/assert"
	"pgregory.net/rapid"
)

func TestHalfWidths(t *testing.T) {
	cases := []struct {
		name, source   string
		got, want, tol float64
	}{
		{"rectangular", "JCGM 100 H.1.3.3: 2e-6 -> 1.2e-6", Rectangular(2e-6), 1.2e-6, 0.05e-6},
		{"rectangular", "JCGM 100 H.1.3.6: 0.05 -> 0.029", Rectangular(0.05), 0.029, 0.0005},
		{"rectangular", "JCGM 100 F.2.2.1: a resolution step of 1 -> 0.29", Rectangular(0.5), 0.29, 0.005},
		{"triangular", "JCGM 100 equation 9b: a^2/6", Triangular(6) * Triangular(6), 6, 1e-12},
		{"normal", "JCGM 100 H.1.3.1: 0.075 um at k = 3 -> 25 nm", Normal(75, 3), 25, 1e-12},
		{"normal", "JCGM 100 4.3.4 example: 129 uohm at 99 % -> 50 uohm", Normal(129, 2.58), 50, 0.5},
		{"a half-width given with a sign", "its size counts", Rectangular(-0.05), 0.029, 0.0005},
	}
	for _, c := range cases {
		assert.InDelta(t, c.want, c.got, c.tol, "%s: %s", c.name, c.source)
	}
}

// Source: JCGM 100:2008, H.2, table H.2, the potential difference: mean 4.999
// V, u of the mean 0.0032 V.
func TestMeanOf(t *testing.T) {
	mean, u, dof := MeanOf([]float64{5.007, 4.994, 5.005, 4.990, 4.999})
	assert.InDelta(t, 4.999, mean, 0.0005)
	assert.InDelta(t, 0.0032, u, 0.00005)
	assert.Equal(t, 4.0, dof)
}

// One sitting has no repeatability: the line it would make is refused.
func TestMeanOfTooFew(t *testing.T) {
	mean, u, dof := MeanOf([]float64{125.5})
	assert.Equal(t, 125.5, mean)
	assert.Error(t, Budget{{Source: "repeatability", Std: u, Sensitivity: 1, DoF: dof}}.Check())
	mean, u, dof = MeanOf(nil)
	for _, v := range []float64{mean, u, dof} {
		assert.True(t, math.IsNaN(v))
	}
}

// Shifted readings shift the mean; stretched ones stretch u.
func TestMeanOfScales(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		readings := rapid.SliceOfN(rapid.Float64Range(-100, 100), 2, 20).Draw(t, "readings")
		shift := rapid.Float64Range(-100, 100).Draw(t, "shift")
		stretch := rapid.Float64Range(0.1, 10).Draw(t, "stretch")
		mean, u, dof := MeanOf(readings)
		moved := make([]float64, len(readings))
		for i, r := range readings {
			moved[i] = shift + stretch*r
		}
		movedMean, movedU, movedDoF := MeanOf(moved)
		// 20 readings of up to 1100 round to 20 x 1100 x 2^-53 = 2.4e-12.
		assert.InDelta(t, shift+stretch*mean, movedMean, 1e-11)
		assert.InDelta(t, stretch*u, movedU, 1e-11)
		assert.Equal(t, dof, movedDoF)
	})
}
