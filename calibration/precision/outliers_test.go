package precision

import (
	"math"
	"math/rand/v2"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"
)

// Source: Grubbs and Beck's table (Technometrics 14 (1972) 847-854), two-sided
// 5 % and 1 %, from memory, and recomputed with SciPy's t.ppf; the table settles the
// third decimal; half a unit of the third decimal, and the t formula
// is exact only where one value can exceed it at a time: 0.001.
func TestGrubbsCritical(t *testing.T) {
	cases := []struct {
		n           int
		level, want float64
	}{{3, 0.05, 1.155}, {4, 0.05, 1.481}, {5, 0.05, 1.715}, {6, 0.05, 1.887}, {7, 0.05, 2.020}, {8, 0.05, 2.126},
		{10, 0.05, 2.290}, {20, 0.05, 2.709}, {10, 0.01, 2.482}, {20, 0.01, 3.001}}
	for _, c := range cases {
		assert.InDelta(t, c.want, GrubbsCritical(c.n, c.level), 0.0015, "n = %d at %v", c.n, c.level)
	}
	assert.True(t, math.IsNaN(GrubbsCritical(2, 0.05)))
}

// rosner is the data of B. Rosner, Technometrics 25 (1983) 165-172, section 5.
var rosner = []float64{
	-0.25, 0.68, 0.94, 1.15, 1.20, 1.26, 1.26, 1.34, 1.38, 1.43, 1.49, 1.49, 1.55, 1.56, 1.58, 1.65, 1.69, 1.70,
	1.76, 1.77, 1.81, 1.91, 1.94, 1.96, 1.99, 2.06, 2.09, 2.10, 2.14, 2.15, 2.23, 2.24, 2.26, 2.35, 2.37, 2.40,
	2.47, 2.54, 2.62, 2.64, 2.90, 2.92, 2.92, 2.93, 3.21, 3.26, 3.30, 3.59, 3.68, 4.30, 4.64, 5.34, 5.42, 6.01,
}

// Source: the same paper, as the NIST/SEMATECH e-Handbook 1.3.5.17.3 prints it
// (a public script on the handbook's data gives 3.118906, 2.942973, 3.179424 against
// 3.158794, 3.151430, 3.143890): three outliers, R 3.118, 2.942, 3.179 against
// critical 3.158, 3.151, 3.143; the first two are masked, and the third tells.
func TestOutliersRosner(t *testing.T) {
	require.Len(t, rosner, 54)
	outliers, err := Outliers(rosner, 0.05, 10)
	require.NoError(t, err)
	require.Len(t, outliers, 3)
	want := []Outlier{{53, 6.01, 3.118, 3.158}, {52, 5.42, 2.942, 3.151}, {51, 5.34, 3.179, 3.143}}
	for i, w := range want {
		got := outliers[i]
		assert.Equal(t, w.Index, got.Index)
		assert.Equal(t, w.Value, got.Value)
		assert.InDelta(t, w.Statistic, got.Statistic, 0.0015)
		assert.InDelta(t, w.Critical, got.Critical, 0.0015)
	}
	alone, err := Outliers(rosner, 0.05, 1)
	require.NoError(t, err)
	assert.Empty(t, alone, "Grubbs' test for one is blind to outliers that hide each other")
}

// Source: the uranium readings of the NIST/SEMATECH e-Handbook, 1.3.5.17.1 (M.
// Tietjen and R. Moore, Technometrics 14 (1972) 583-597), from memory; the handbook's page
// settles the readings. G = 2.4688 for 245.57 follows from them.
func TestOutliersGrubbs(t *testing.T) {
	uranium := []float64{199.31, 199.53, 200.19, 200.82, 201.92, 201.95, 202.18, 245.57}
	outliers, err := Outliers(uranium, 0.05, 1)
	require.NoError(t, err)
	require.Len(t, outliers, 1)
	assert.Equal(t, 7, outliers[0].Index)
	assert.InDelta(t, 2.4688, outliers[0].Statistic, 0.0001)
}

func TestOutliersRefuses(t *testing.T) {
	_, err := Outliers([]float64{1, 2}, 0.05, 1)
	assert.ErrorContains(t, err, "2 values, need at least 3")
	_, err = Outliers([]float64{1, 2, math.NaN()}, 0.05, 1)
	assert.ErrorContains(t, err, "value 3 is NaN")
	_, err = Outliers([]float64{1, 2, 3}, 5, 1)
	assert.ErrorContains(t, err, "level 5")
	none, err := Outliers([]float64{2, 2, 2, 2}, 0.05, 2)
	require.NoError(t, err)
	assert.Empty(t, none)
}

// In clean normal samples of 30 any value is named in 5 % of them, within four
// standard errors of a share of 4000; Rosner (1983) finds the level true to
// about 0.01 from 25 values on (from memory; this test settles it for 30).
func TestOutliersLevelHolds(t *testing.T) {
	random := rand.New(rand.NewPCG(2, 3))
	alarms := 0
	for range 4000 {
		sample := make([]float64, 30)
		for i := range sample {
			sample[i] = random.NormFloat64()
		}
		outliers, err := Outliers(sample, 0.05, 3)
		require.NoError(t, err)
		if len(outliers) > 0 {
			alarms++
		}
	}
	assert.InDelta(t, 0.05, float64(alarms)/4000, 4*math.Sqrt(0.05*0.95/4000)+0.01)
}

// The order of the values, their unit and their zero do not matter.
func TestOutliersFollowUnits(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		values := rapid.Permutation(rosner).Draw(t, "values")
		shift := rapid.Float64Range(-100, 100).Draw(t, "shift")
		stretch := rapid.Float64Range(0.1, 10).Draw(t, "stretch")
		moved := make([]float64, len(values))
		for i, v := range values {
			moved[i] = shift + stretch*v
		}
		outliers, err := Outliers(moved, 0.05, 5)
		require.NoError(t, err)
		require.Len(t, outliers, 3)
		for i, want := range []float64{6.01, 5.42, 5.34} {
			assert.Equal(t, want, values[outliers[i].Index])
		}
	})
}
