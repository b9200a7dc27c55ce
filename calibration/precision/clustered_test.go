package precision

import (
	"math"
	"math/rand/v2"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"
)

// Anscombe's first set (The American Statistician 27 (1973) 17-21), as public copies print it.
var (
	anscombeX = []float64{10, 8, 13, 9, 11, 14, 6, 4, 12, 7, 5}
	anscombeY = []float64{8.04, 6.95, 7.58, 8.81, 8.33, 9.96, 7.24, 4.26, 10.84, 4.82, 5.68}
)

// Source: by clusters of one, the error is that which statsmodels 0.13.5 calls HC2,
// 0.11669118; by clusters {0,0,0,1,1,2,2,2,3,3,4} and the degrees of freedom by the
// definition's full matrices in NumPy and SciPy 1.10.1 (matrix square roots and the
// eigenvalues of M).
func TestClusteredAgainstFullMatrices(t *testing.T) {
	uneven := []int{0, 0, 0, 1, 1, 2, 2, 2, 3, 3, 4}
	singles := []int{0, 1, 2, 3, 4, 5, 6, 7, 8, 9, 10}
	line, err := ClusteredLine(anscombeX, anscombeY, singles)
	require.NoError(t, err)
	assert.InDelta(t, 0.11669118160876811, line.SE, 1e-12)
	assert.InDelta(t, 4.9779479818361425, line.DoF, 1e-10)
	line, err = ClusteredLine(anscombeX, anscombeY, uneven)
	require.NoError(t, err)
	assert.InDelta(t, 0.1183908064926791, line.SE, 1e-12)
	assert.InDelta(t, 2.199603929550539, line.DoF, 1e-10)
	assert.InDelta(t, 0.500, line.Slope, 0.0005, "the slope stays")
	se, dof := ClusteredMean(anscombeY, uneven)
	assert.InDelta(t, 0.3051319507134401, se, 1e-12)
	assert.InDelta(t, 3.501756282085922, dof, 1e-10)
}

// By clusters of one a mean has Student's standard error and n-1 degrees of freedom;
// by clusters of one size, those of the clusters' means.
func TestClusteredMeanIsThatOfTheMeans(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		size, clusters := rapid.IntRange(1, 5).Draw(t, "size"), rapid.IntRange(2, 12).Draw(t, "clusters")
		var values, means []float64
		var cluster []int
		for k := range clusters {
			one := rapid.SliceOfN(rapid.Float64Range(-20, 20), size, size).Draw(t, "values")
			values, means = append(values, one...), append(means, Mean(one))
			for range size {
				cluster = append(cluster, k)
			}
		}
		se, dof := ClusteredMean(values, cluster)
		assert.InDelta(t, SD(means)/math.Sqrt(float64(clusters)), se, 1e-9)
		assert.InDelta(t, float64(clusters-1), dof, 1e-6)
	})
}

// Where riders differ, 95 % of the intervals by cluster hold the mean and the slope,
// within four standard errors of a share of 1000, and those that take each value for
// one of its own do not.
func TestClusteredIntervalsHold(t *testing.T) {
	const repeats = 1000
	random := rand.New(rand.NewPCG(4, 19))
	var mean, plain, slope, plainSlope int
	for range repeats {
		var x, y []float64
		var cluster []int
		for k := range 30 {
			rider, when := 2*random.NormFloat64(), 8*random.Float64()
			for range 1 + k%5 {
				x, y, cluster = append(
					x, when+random.Float64(),
				), append(
					y, 3+rider+random.NormFloat64(),
				), append(
					cluster, k,
				)
			}
		}
		se, dof := ClusteredMean(y, cluster)
		half := studentQuantile(0.975, dof) * se
		mean += countIf(math.Abs(Mean(y)-3) <= half)
		a, err := LimitsOfAgreement(y)
		require.NoError(t, err)
		plain += countIf(a.BiasInterval.Low <= 3 && 3 <= a.BiasInterval.High)
		l, err := ClusteredLine(x, y, cluster)
		require.NoError(t, err)
		slope += countIf(l.Interval.Low <= 0 && 0 <= l.Interval.High)
		l, err = LineOf(x, y)
		require.NoError(t, err)
		plainSlope += countIf(l.Interval.Low <= 0 && 0 <= l.Interval.High)
	}
	t.Logf("of %d: mean %d by cluster, %d without; slope %d and %d", repeats, mean, plain, slope, plainSlope)
	within := 4 * math.Sqrt(0.95*0.05*repeats)
	assert.InDelta(t, 0.95*repeats, mean, within)
	assert.InDelta(t, 0.95*repeats, slope, within)
	assert.Less(t, plain, int(0.95*repeats-within))
	assert.Less(t, plainSlope, int(0.95*repeats-within))
}

// Bias and limits stay, the intervals are no narrower than without clusters, and the
// same where each value is of its own. Of one cluster, and of two for a
// line, no interval is told.
func TestLimitsByClusterAreNoNarrower(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		n := rapid.IntRange(4, 30).Draw(t, "n")
		values := rapid.SliceOfN(rapid.Float64Range(-20, 20), n, n).Draw(t, "values")
		cluster := append(
			[]int{0, 1, 2},
			rapid.SliceOfN(rapid.IntRange(0, 6), n-3, n-3).Draw(t, "cluster")...)
		x := make([]float64, n)
		for i := range x {
			x[i] = float64(i)
		}
		plain, err := LimitsOfAgreement(values)
		require.NoError(t, err)
		a, err := LimitsByCluster(values, cluster)
		require.NoError(t, err)
		assert.Equal(t, plain.Bias, a.Bias)
		assert.Equal(t, plain.Upper, a.Upper)
		assert.LessOrEqual(t, a.BiasInterval.Low, plain.BiasInterval.Low)
		assert.LessOrEqual(t, plain.UpperInterval.High, a.UpperInterval.High+1e-9)
		assert.False(t, math.IsInf(a.UpperInterval.High, 0))
		singles := make([]int, n)
		for i := range singles {
			singles[i] = i
		}
		a, err = LimitsByCluster(values, singles)
		require.NoError(t, err)
		assert.Equal(t, plain, a)
		straight, err := LineOf(x, values)
		require.NoError(t, err)
		l, err := LineByCluster(x, values, cluster)
		require.NoError(t, err)
		assert.LessOrEqual(t, l.Interval.Low, straight.Interval.Low)
		_, err = LimitsByCluster(values, make([]int, n))
		assert.ErrorContains(t, err, "too few clusters")
		_, err = LineByCluster(x, values, make([]int, n))
		assert.ErrorContains(t, err, "too few clusters")
	})
}

func countIf(holds bool) int {
	if holds {
		return 1
	}
	return 0
}
