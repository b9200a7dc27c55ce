package cv

import (
	"math/rand/v2"
	"testing"

	"github.com/stretchr/testify/require"
)

// The reference counts byte by byte.
func TestRunsAreCountedByEights(t *testing.T) {
	r := rand.New(rand.NewPCG(2, 9))
	for n := range 70 {
		pix := make([]byte, n)
		want, last := 0, byte(0)
		for i := range pix {
			pix[i] = byte(255 * (r.Uint32N(5) / 3))
			if pix[i] > last {
				want++
			}
			last = pix[i]
		}
		require.Equal(t, want, runsIn(pix), pix)
	}
}
