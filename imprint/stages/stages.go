// Package stages notes where the time of a measurement goes; it knows nobody.
//
// Its opinion: a stage is what a person would name, seven of them and no more. Who measures begins and ends a
// stage by the context that it was handed; without a clock in it that costs nothing. Stages of photos that
// are looked at side by side add up, so that their sum may be more than the clock on the wall shows.
package stages

import (
	"context"
	"sync"
	"time"
)

// Stage is a part of a measurement. Its text is a part of a key of package words.
type Stage string

// The stages, in the order in which a photo goes through them.
const (
	Decode   Stage = "decode"   // file to pixels
	Marks    Stage = "marks"    // the frame's marks, or another scale
	Window   Stage = "window"   // the window on its plane, and what took the imprint
	Net      Stage = "net"      // the nets, their loading included
	Ink      Stage = "ink"      // the density model on paper
	Geometry Stage = "geometry" // dots, several photos' surface
	Conclude Stage = "conclude" // the distance, its budget, cross-checks
)

// All are the stages in their order.
var All = []Stage{Decode, Marks, Window, Net, Ink, Geometry, Conclude}

// Clock adds up the time of each stage. It may be used from several goroutines.
type Clock struct {
	mu   sync.Mutex
	took map[Stage]time.Duration
}

type key struct{}

// With is a context in which stages are timed by the clock.
func With(ctx context.Context, c *Clock) context.Context { return context.WithValue(ctx, key{}, c) }

// Begin begins a stage, and returns what ends it.
func Begin(ctx context.Context, s Stage) (end func()) {
	c, ok := ctx.Value(key{}).(*Clock)
	if !ok {
		return func() {}
	}
	start := time.Now()
	return func() {
		c.mu.Lock()
		defer c.mu.Unlock()
		if c.took == nil {
			c.took = map[Stage]time.Duration{}
		}
		c.took[s] += time.Since(start)
	}
}

// Took is the time of a stage so far; false where it was never begun.
func (c *Clock) Took(s Stage) (time.Duration, bool) {
	c.mu.Lock()
	defer c.mu.Unlock()
	d, ok := c.took[s]
	return d, ok
}
