package rank

import (
	"math"
	"testing"

	"github.com/stretchr/testify/assert"
)

func TestRanks(t *testing.T) {
	v := []float64{3, 1, 2, 9}
	assert.Equal(t, 3.0, Median(v), "the upper of 2 and 3")
	assert.Equal(t, []float64{3, 1, 2, 9}, v, "nothing is moved")
	assert.True(t, math.IsNaN(Median(nil)))
	assert.Equal(t, 2.0, Quantile32([]float32{5, 2, 1}, 0.5))
	assert.True(t, math.IsNaN(Quantile32([]float32{5, float32(math.NaN()), 1}, 0.5)))
}
