package cores

import (
	"runtime"
	"sync/atomic"
	"testing"

	"github.com/stretchr/testify/assert"
)

// Each piece is done once, whatever the number, and what begin makes is used on one core at a time.
func TestEachPieceIsDoneOnce(t *testing.T) {
	for _, n := range []int{0, 1, 2, 3, 1000} {
		done := make([]atomic.Int64, n)
		EachWith(n, func() func(int) {
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

// The lowest is found, though a later one is known to hold before it.
func TestTheFirstIsTheLowest(t *testing.T) {
	later := make(chan bool)
	wait := runtime.GOMAXPROCS(0) > 1
	got := First(40, func(i int) bool {
		switch {
		case i == 0 && wait:
			<-later // 1 and 2 have been asked by another core
		case i == 2 && wait:
			close(later)
		}
		return i == 0 || i == 2
	})
	assert.Equal(t, 0, got)
	assert.Equal(t, 7, First(40, func(i int) bool { return i >= 7 }))
	assert.Equal(t, 5, First(5, func(int) bool { return false }))
	assert.Equal(t, 0, First(0, func(int) bool { return true }))
}
