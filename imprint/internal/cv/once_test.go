package cv

import (
	"testing"

	"github.com/stretchr/testify/assert"
)

// A quad on a place that was measured and holds no mark is passed over, whichever corner it begins with; one
// beside it, or of another size, is not.
func TestAPlaceIsMeasuredOnce(t *testing.T) {
	q := [4]Pixel{{X: 100, Y: 100}, {X: 160, Y: 102}, {X: 158, Y: 161}, {X: 99, Y: 160}}
	s := search{unread: []refined{{corners: q}}}
	moved := func(dx, dy float64) (out [4]Pixel) {
		for i, c := range q {
			out[i] = Pixel{X: c.X + dx, Y: c.Y + dy}
		}
		return out
	}
	for first := range 4 {
		assert.True(t, s.measuredAlready(turn(moved(1.5, -1), first), 2.5))
		assert.False(t, s.measuredAlready(turn(moved(2, 2), first), 2.5), "beside it")
	}
	larger := q
	larger[2] = Pixel{X: q[2].X + 4, Y: q[2].Y + 4}
	assert.False(t, s.measuredAlready(larger, 2.5))
	assert.False(t, s.measuredAlready(moved(8, 0), 20), "no farther than the edges are sought")
	assert.True(t, s.measuredAlready(moved(6, 0), 20))
}
