package normal

import (
	"math"
	"testing"

	"github.com/stretchr/testify/assert"
)

// The table's cubics against the functions: h^4/384 times the fourth derivatives, 1.4 and 3 at the most.
func TestOfIsTheNormalDistribution(t *testing.T) {
	for z := -9.0; z <= 9; z += 0.00137 {
		v, density := Of(z)
		assert.InDelta(t, 0.5*math.Erfc(-z/math.Sqrt2), v, 4e-10, "at %g", z)
		assert.InDelta(t, math.Exp(-z*z/2)/math.Sqrt(2*math.Pi), density, 1e-9, "at %g", z)
	}
	for z, want := range map[float64]float64{math.Inf(-1): 0, math.Inf(1): 1} {
		v, density := Of(z)
		assert.Equal(t, want, v)
		assert.Zero(t, density)
	}
}
