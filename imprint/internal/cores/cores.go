// Package cores shares independent pieces of work out among the processor's cores; it knows nobody.
//
// What may live here: how work is shared out. What may not: what the work is.
package cores

import (
	"runtime"
	"sync"
	"sync/atomic"
)

// Each does the pieces 0 to n - 1, in about this order, and returns when all are done.
func Each(n int, do func(i int)) { EachWith(n, func() func(int) { return do }) }

// EachWith likewise. begin is called once on each core and gives what does a piece there: what it makes is
// that core's own.
func EachWith(n int, begin func() (do func(i int))) {
	var next atomic.Int64
	work := func() {
		do := begin()
		for i := next.Add(1) - 1; i < int64(n); i = next.Add(1) - 1 {
			do(int(i))
		}
	}
	var group sync.WaitGroup
	for range min(runtime.GOMAXPROCS(0), n) - 1 {
		group.Go(work)
	}
	if n > 0 {
		work()
	}
	group.Wait()
}

// First is the lowest of 0 to n - 1 for which is holds, n where it holds for none: as if they were asked in
// turn. Those after one for which it is known to hold are not asked.
func First(n int, is func(i int) bool) int {
	var first atomic.Int64
	first.Store(int64(n))
	Each(n, func(i int) {
		if int64(i) > first.Load() || !is(i) {
			return
		}
		for old := first.Load(); int64(i) < old; old = first.Load() {
			first.CompareAndSwap(old, int64(i))
		}
	})
	return int(first.Load())
}
