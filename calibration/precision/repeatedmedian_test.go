package precision

import (
	"math"
	"testing"

	"github.com/stretchr/testify/assert"
	"pgregory.net/rapid"
)

// Source: SciPy's published tests of siegelslopes (scipy/stats/tests/test_stats.py)
// for the exact line and the one of which four of ten points are wrong; the data of
// Sen, Journal of the American Statistical Association 63 (1968) 1379-1389, as SciPy's
// tests of theilslopes print them, and Anscombe's third set (The American Statistician
// 27 (1973) 17-21), each with what siegelslopes of SciPy 1.10.1 gives.
func TestRepeatedMedians(t *testing.T) {
	var tens, line, wrong []float64
	for i := range 10 {
		tens, line = append(tens, 2*float64(i)), append(line, 10*float64(i)-3)
	}
	wrong = append([]float64{1000, 1000, 1000, 1000}, line[4:]...)
	for _, c := range []struct {
		name             string
		x, y             []float64
		slope, intercept float64
	}{
		{"exact", tens, line, 5, -3},
		{"four of ten wrong", tens, wrong, 5, -3},
		{
			"Sen", []float64{1, 2, 3, 4, 10, 12, 18}, []float64{9, 15, 19, 20, 45, 55, 78},
			3.9981617647058822, 6.033088235294116,
		},
		{
			"Anscombe III", []float64{10, 8, 13, 9, 11, 14, 6, 4, 12, 7, 5},
			[]float64{7.46, 6.77, 12.74, 7.11, 7.81, 8.84, 6.08, 5.39, 8.15, 6.42, 5.73}, 0.3455, 4.005,
		},
	} {
		slope, intercept := RepeatedMedians(c.x, c.y)
		assert.InDelta(t, c.slope, slope, 1e-12, c.name)
		assert.InDelta(t, c.intercept, intercept, 1e-12, c.name)
	}
	slope, _ := RepeatedMedians([]float64{2, 2, 2}, []float64{1, 2, 3})
	assert.True(t, math.IsNaN(slope), "all at one place")
}

// A few points, wherever they are, do not move a line that the rest lie on. Of n
// points, a right one has n-1 slopes; their median is right, even as the mean of the
// middle two, where at most (n-3)/2 are to wrong ones.
func TestRepeatedMediansFollowTheMost(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		n := rapid.IntRange(5, 30).Draw(t, "n")
		slope := rapid.Float64Range(-3, 3).Draw(t, "slope")
		intercept := rapid.Float64Range(-9, 9).Draw(t, "intercept")
		x, y := make([]float64, n), make([]float64, n)
		for i := range x {
			x[i] = float64(i) + rapid.Float64Range(0, 0.5).Draw(t, "x")
			y[i] = intercept + slope*x[i]
		}
		wrong := rapid.SliceOfNDistinct(rapid.IntRange(0, n-1), 0, (n-3)/2, rapid.ID).Draw(t, "wrong")
		for _, i := range wrong {
			y[i] += rapid.Float64Range(-1e3, 1e3).Draw(t, "slip")
		}
		gotSlope, gotIntercept := RepeatedMedians(x, y)
		assert.InDelta(t, slope, gotSlope, 1e-9)
		assert.InDelta(t, intercept, gotIntercept, 1e-8)
	})
}
