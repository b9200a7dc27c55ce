package stages

import (
	"context"
	"sync"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
)

func TestClock(t *testing.T) {
	Begin(context.Background(), Marks)() // nobody counts
	var c Clock
	_, seen := c.Took(Marks)
	assert.False(t, seen)
	ctx := With(context.Background(), &c)
	const pause = 5 * time.Millisecond
	var both sync.WaitGroup
	for range 2 {
		both.Go(func() {
			defer Begin(ctx, Marks)()
			time.Sleep(pause)
		})
	}
	both.Wait()
	took, seen := c.Took(Marks)
	assert.True(t, seen)
	assert.GreaterOrEqual(t, took, 2*pause, "both count")
	_, seen = c.Took(Net)
	assert.False(t, seen, "another stage")
}
