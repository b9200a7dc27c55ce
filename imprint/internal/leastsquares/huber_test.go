package leastsquares

import (
	"math"
	"math/rand/v2"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"
)

// contaminated draws a line's readings, truth (2, 0.5), noise SD 1, of which
// the given share lies ten too high.
func contaminated(random *rand.Rand, m int, share float64) (y, x []float64) {
	for i := range m {
		x = append(x, float64(i)/10)
		y = append(y, 2+0.5*x[i]+random.NormFloat64())
		if random.Float64() < share {
			y[i] += 10
		}
	}
	return y, x
}

// One reading of twenty far off hardly moves the robust fit, and carries least
// squares away; its weight says so.
func TestHuberResistsOutlier(t *testing.T) {
	random := rand.New(rand.NewPCG(3, 1))
	y, x := contaminated(random, 20, 0)
	y[19] += 100
	problem := problemOf(y, x, straightLine)
	plain, err := Minimise(problem, []float64{0, 0}, Options{})
	require.NoError(t, err)
	robust, err := Minimise(problem, []float64{0, 0}, Options{Huber: 1.345})
	require.NoError(t, err)
	require.True(t, robust.Converged)

	u := robust.StandardUncertainties()
	assert.InDelta(t, 0.5, robust.Parameters[1], 3*u[1])
	assert.Greater(t, math.Abs(plain.Parameters[1]-0.5), 10*u[1])
	assert.Less(t, robust.Weights[19], 0.05)
	assert.Nil(t, plain.Weights)
}

// At the minimum of Huber's loss the clipped residuals are orthogonal to every
// derivative: sum psi = 0 and sum psi x = 0 for a line.
func TestHuberStationary(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		random := rand.New(rand.NewPCG(rapid.Uint64().Draw(t, "seed"), 2))
		y, x := contaminated(random, 40, 0.15)
		threshold := rapid.Float64Range(0.8, 3).Draw(t, "threshold")
		fit, err := Minimise(
			problemOf(y, x, straightLine),
			[]float64{0, 0},
			Options{Huber: threshold, Tolerance: 1e-9},
		)
		require.NoError(t, err)
		require.True(t, fit.Converged)
		var sum, moment float64
		for i, r := range fit.Residuals {
			psi := max(-threshold, min(threshold, r))
			assert.InDelta(t, psi, fit.Weights[i]*r, 1e-12)
			sum += psi
			moment += psi * x[i]
		}
		// A step of 1e-9 standard uncertainties changes the sum by less than
		// sqrt(m) times that, the moment by the largest x, 4, times as much.
		assert.InDelta(t, 0, sum, 1e-7)
		assert.InDelta(t, 0, moment, 4e-7)
	})
}

// With a threshold beyond every residual the robust fit is the plain one.
func TestHuberWideThresholdIsLeastSquares(t *testing.T) {
	y, x := contaminated(rand.New(rand.NewPCG(9, 9)), 30, 0.1)
	plain, err := Minimise(problemOf(y, x, straightLine), []float64{0, 0}, Options{})
	require.NoError(t, err)
	robust, err := Minimise(problemOf(y, x, straightLine), []float64{0, 0}, Options{Huber: 1e6})
	require.NoError(t, err)
	assert.InDeltaSlice(t, plain.Parameters, robust.Parameters, 1e-9)
	assert.InEpsilon(t, plain.ResidualSD, robust.ResidualSD, 1e-9)
}

// The claimed covariance is the spread of the parameters over repeated data,
// with and without outliers on either side of the threshold. Tolerance: four
// standard errors of a standard deviation from 2000 repeats, 4/sqrt(4000), and
// as much again for the asymptotic formula at 60 residuals.
func TestCovarianceIsTheSpread(t *testing.T) {
	for _, c := range []struct {
		name         string
		huber, share float64
	}{{"least squares", 0, 0}, {"Huber, clean", 1.345, 0}, {"Huber, a tenth off", 1.345, 0.1}} {
		t.Run(c.name, func(t *testing.T) {
			random := rand.New(rand.NewPCG(11, 4))
			const repeats = 2000
			var sum, squares, claimed float64
			for range repeats {
				y, x := contaminated(random, 60, c.share)
				fit, err := Minimise(problemOf(y, x, straightLine), []float64{0, 0}, Options{Huber: c.huber})
				require.NoError(t, err)
				sum += fit.Parameters[1]
				squares += fit.Parameters[1] * fit.Parameters[1]
				claimed += fit.Covariance.At(1, 1) / repeats
			}
			spread := (squares - sum*sum/repeats) / (repeats - 1)
			assert.InEpsilon(t, math.Sqrt(spread), math.Sqrt(claimed), 8/math.Sqrt(2*repeats))
		})
	}
}

// 1.4826 = 1/0.6745, the normal distribution's upper quartile.
func TestRobustSD(t *testing.T) {
	cases := []struct {
		name      string
		residuals []float64
		want      float64
	}{
		{"odd", []float64{-3, 1, 2}, 2 / 0.6744897501960817},
		{"even", []float64{-4, 1, 2, 3}, 2.5 / 0.6744897501960817},
		{"outlier", []float64{1, -1, 1, -1, 1e9}, 1 / 0.6744897501960817},
	}
	for _, c := range cases {
		t.Run(c.name, func(t *testing.T) { assert.InEpsilon(t, c.want, RobustSD(c.residuals), 1e-12) })
	}
	assert.True(t, math.IsNaN(RobustSD(nil)))
}
