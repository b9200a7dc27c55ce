package gum_test

import (
	"strconv"
	"testing"

	"github.com/stretchr/testify/assert"
	"pgregory.net/rapid"

	"sitspan/calibration/gum"
)

// JCGM 100:2008, 7.2.6: at most two significant digits; rounded up.
func TestStatedUncertainty(t *testing.T) {
	for _, c := range []struct{ u, want float64 }{
		{4.93, 5}, {2.2, 2.2}, {2.232, 2.3}, {0.04, 0.1}, {0, 0}, {9.9, 9.9}, {9.91, 10}, {12.01, 13}, {12, 12},
	} {
		assert.Equal(t, c.want, gum.Stated(c.u), c.u)
	}
	rapid.Check(t, func(t *rapid.T) {
		u := rapid.Float64Range(0.01, 99).Draw(t, "u")
		stated := gum.Stated(u)
		assert.GreaterOrEqual(t, stated, u-1e-9)
		digits := strconv.FormatFloat(stated, 'f', gum.Decimals(stated), 64)
		assert.LessOrEqual(t, len(digits), 3, "two digits and a point")
		assert.Equal(t, stated, gum.Stated(stated), "said twice it is the same number")
	})
}
