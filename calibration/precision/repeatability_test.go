package precision

import (
	"encoding/csv"
	"math"
	"math/rand/v2"
	"os"
	"path/filepath"
	"strconv"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"
)

// flow is table 1 of Bland and Altman, Lancet 1986; i: 307-310: peak expiratory
// flow rate, l/min, of 17 subjects by two meters, twice.
type flow struct{ wright, wrightAgain, mini, miniAgain []float64 }

func readFlow(t *testing.T) flow {
	t.Helper()
	file, err := os.Open(filepath.Join("testdata", "bland_altman_1986_pefr.csv"))
	require.NoError(t, err)
	defer file.Close()
	rows, err := csv.NewReader(file).ReadAll()
	require.NoError(t, err)
	var f flow
	columns := []*[]float64{&f.wright, &f.wrightAgain, &f.mini, &f.miniAgain}
	for _, row := range rows[1:] {
		for i, column := range columns {
			v, err := strconv.ParseFloat(row[i+1], 64)
			require.NoError(t, err)
			*column = append(*column, v)
		}
	}
	require.Len(t, f.wright, 17)
	return f
}

func pairs(first, second []float64) [][]float64 {
	var groups [][]float64
	for i := range first {
		groups = append(groups, []float64{first[i], second[i]})
	}
	return groups
}

// Source: Bland and Altman 1986, repeatability: coefficient 43.2 l/min for the Wright meter,
// 56.4 for the mini meter, twice the standard deviation of differences about zero, which is
// 2 sqrt(2) s_r. The paper doubles a standard deviation rounded to one decimal, so twice 0.05
// is allowed.
func TestRepeatabilityOfFlowMeters(t *testing.T) {
	f := readFlow(t)
	for name, c := range map[string]struct {
		first, second []float64
		coefficient   float64
	}{"Wright": {f.wright, f.wrightAgain, 43.2}, "mini": {f.mini, f.miniAgain, 56.4}} {
		r, err := PooledRepeatability(pairs(c.first, c.second))
		require.NoError(t, err)
		assert.InDelta(t, c.coefficient, 2*math.Sqrt2*r.SD, 0.1, name)
		assert.Equal(t, 17.0, r.DoF)
		assert.Equal(t, 17, r.Groups)
		assert.Equal(t, 34, r.Readings)
		assert.InEpsilon(t, 2.77*r.SD, r.Limit(), 0.001, "1.96 sqrt(2) = 2.77")
	}
}

// By hand: variances 1 (dof 2) and 4.5 (dof 1) pool to 6.5/3; a lone reading
// adds nothing. Chi-square of 3 degrees of freedom: 0.2158 and 9.3484 (common
// tables).
func TestPooledRepeatability(t *testing.T) {
	r, err := PooledRepeatability([][]float64{{124, 125, 126}, {110}, {130, 133}, {}})
	require.NoError(t, err)
	assert.InDelta(t, math.Sqrt(6.5/3), r.SD, 1e-12)
	assert.Equal(t, 3.0, r.DoF)
	assert.Equal(t, 2, r.Groups)
	assert.Equal(t, 5, r.Readings)
	assert.InDelta(t, math.Sqrt(6.5/9.3484), r.Interval.Low, 0.0005)
	assert.InDelta(t, math.Sqrt(6.5/0.2158), r.Interval.High, 0.0005)
}

func TestRepeatabilityRefuses(t *testing.T) {
	_, err := PooledRepeatability([][]float64{{1}, {2}})
	assert.ErrorContains(t, err, "no group of two readings or more among 2")
	_, err = PooledRepeatability([][]float64{{1, 2}, {2, math.NaN()}})
	assert.ErrorContains(t, err, "group 2: value 2 is NaN")
}

// What differs between groups is no matter: moving a whole group changes s_r
// by rounding alone.
func TestRepeatabilityIgnoresLevels(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		group := rapid.SliceOfN(rapid.Float64Range(70, 190), 2, 6)
		groups := rapid.SliceOfN(group, 1, 6).Draw(t, "groups")
		before, err := PooledRepeatability(groups)
		require.NoError(t, err)
		for _, g := range groups {
			shift := rapid.Float64Range(-50, 50).Draw(t, "shift")
			for i := range g {
				g[i] += shift
			}
		}
		after, err := PooledRepeatability(groups)
		require.NoError(t, err)
		assert.InDelta(t, before.SD, after.SD, 1e-12)
	})
}

// Of intervals from normal data, 95 % hold the true s_r = 2, within four
// standard errors of a share of 4000.
func TestRepeatabilityIntervalHolds(t *testing.T) {
	random := rand.New(rand.NewPCG(5, 5))
	held := 0
	for range 4000 {
		groups := make([][]float64, 4)
		for i := range groups {
			for range 3 {
				groups[i] = append(groups[i], float64(100+10*i)+2*random.NormFloat64())
			}
		}
		r, err := PooledRepeatability(groups)
		require.NoError(t, err)
		if r.Interval.Low <= 2 && 2 <= r.Interval.High {
			held++
		}
	}
	assert.InDelta(t, 0.95, float64(held)/4000, 4*math.Sqrt(0.95*0.05/4000))
}
