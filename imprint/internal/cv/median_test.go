package cv

import (
	"math/rand/v2"
	"slices"
	"testing"

	"github.com/stretchr/testify/require"
)

// The reference sorts.
func TestMedian(t *testing.T) {
	r := rand.New(rand.NewPCG(1, 8))
	for n := range 300 {
		v := make([]float64, n)
		for i := range v {
			v[i] = float64(r.IntN(1 + n/2)) // many are alike
		}
		sorted := slices.Sorted(slices.Values(v))
		want := 0.0
		if n > 0 {
			want = (sorted[(n-1)/2] + sorted[n/2]) / 2
		}
		require.Equal(t, want, median(v), sorted)
		require.ElementsMatch(t, sorted, v, "none is lost")
	}
}
