package precision

import (
	"math"
	"math/rand/v2"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// Source: Anscombe's third set (The American Statistician 27 (1973) 17-21), ten points
// on a line and one off it: 1203.539463832 by rstudent(lm(y3 ~ x3, anscombe)) of R 4.2.2,
// which has the set, since the rest scatter by a rounding only.
func TestOutliersOfLineAnscombe(t *testing.T) {
	y := []float64{7.46, 6.77, 12.74, 7.11, 7.81, 8.84, 6.08, 5.39, 8.15, 6.42, 5.73}
	found, err := OutliersOfLine(anscombeX, y, 0.05, 2)
	require.NoError(t, err)
	require.Len(t, found, 1)
	assert.Equal(t, 2, found[0].Index)
	assert.InDelta(t, 1203.539463832, found[0].Statistic, 1e-5)
	assert.InDelta(t, 12.74-(4.005+0.3455*13), found[0].Value, 0.01)
}

// Two slips at the end, to one side, pull the plain line over themselves; they are
// named all the same. Points that all lie at one place are judged as values.
func TestOutliersOfLineDoNotHide(t *testing.T) {
	random := rand.New(rand.NewPCG(5, 5))
	x, y := make([]float64, 24), make([]float64, 24)
	for i := range x {
		x[i], y[i] = float64(i)/2, 0.9*float64(i)/2+2*random.NormFloat64()
	}
	y[22], y[23] = y[22]+30, y[23]+30
	found, err := OutliersOfLine(x, y, 0.05, 4)
	require.NoError(t, err)
	require.Len(t, found, 2)
	assert.ElementsMatch(t, []int{22, 23}, []int{found[0].Index, found[1].Index})
	found, err = OutliersOfLine(make([]float64, 54), rosner, 0.05, 10)
	require.NoError(t, err)
	assert.Len(t, found, 3, "as Rosner's example")
	_, err = OutliersOfLine([]float64{1, 2}, []float64{1, 2}, 0.05, 1)
	assert.ErrorContains(t, err, "need at least 3")
	_, err = OutliersOfLine(x, y, 5, 1)
	assert.ErrorContains(t, err, "level 5")
	found, err = OutliersOfLine(x, x, 0.05, 4)
	require.NoError(t, err)
	assert.Empty(t, found, "points on a line")
}

// In clean samples of any size a point is named in 5 % of them at most, within four
// standard errors of a share of 1000 and Rosner's hundredth.
func TestOutliersOfLineLevelHolds(t *testing.T) {
	const repeats = 1000
	random := rand.New(rand.NewPCG(6, 6))
	for _, n := range []int{5, 8, 11, 15, 24, 60} {
		alarms := 0
		for range repeats {
			x, y := make([]float64, n), make([]float64, n)
			for i := range x {
				x[i], y[i] = random.Float64(), random.NormFloat64()
			}
			found, err := OutliersOfLine(x, y, 0.05, max(2, n/5))
			require.NoError(t, err)
			alarms += countIf(len(found) > 0)
		}
		t.Logf("%d points: named in %d of %d", n, alarms, repeats)
		assert.LessOrEqual(t, float64(alarms)/repeats, 0.05+4*math.Sqrt(0.05*0.95/repeats)+0.01, n)
	}
}
