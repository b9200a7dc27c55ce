package cores

import (
	"sync/atomic"
	"testing"

	"github.com/stretchr/testify/assert"
)

// Each piece is done once, whatever the number, and what begin makes is used on one core at a time.
func TestEachPieceIsDoneOnce(t *testing.T) {
	for _, n := range []int{0, 1, 2, 3, 1000} {
		done := make([]atomic.Int64, n)
		Each(n, func() func(int) {
			var inUse atomic.Bool
			return func(i int) {
				assert.True(t, inUse.CompareAndSwap(false, true))
				done[i].Add(1)
				inUse.Store(false)
			}
		})
		for i := range done {
			assert.EqualValues(t, 1, done[i].Load(), "piece %d of %d", i, n)
		}
	}
}
