package cv

import (
	"image"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// darkSquare is one of 140 px on light paper, its corners at 79.5 and 219.5.
func darkSquare(t *testing.T) plane8 {
	img := image.NewGray(image.Rect(0, 0, 300, 300))
	for i := range img.Pix {
		img.Pix[i] = 220
		if x, y := i%300, i/300; x >= 80 && x < 220 && y >= 80 && y < 220 {
			img.Pix[i] = 30
		}
	}
	p, err := greyPlane(img)
	require.NoError(t, err)
	return p
}

// A step that was done before is not done again: what was found stands, though the picture is gone.
func TestAnAttemptsStepsAreDoneOnce(t *testing.T) {
	p := darkSquare(t)
	about := [4]Pixel{{X: 81, Y: 81}, {X: 218, Y: 80}, {X: 219, Y: 219}, {X: 80, Y: 218}}
	a := &attempt{quad: about, tolerance: 4}
	look := func(p plane8) (reading, [4]Pixel, refined) {
		r, legible := a.read(p)
		require.True(t, legible)
		q, sides := a.onSides(p)
		require.True(t, sides)
		m, edges := a.onEdges(p)
		require.True(t, edges)
		return r, q, m
	}
	r, q, m := look(p)
	assert.True(t, r.plain(), "a dark square")
	assert.Less(t, farthest(m.corners, [4]Pixel{{X: 79.5, Y: 79.5}, {X: 219.5, Y: 79.5}, {X: 219.5, Y: 219.5},
		{X: 79.5, Y: 219.5}}), 0.1)
	again, on, once := look(plane8{make([]byte, len(p.pix)), p.w, p.h})
	assert.Equal(t, r, again)
	assert.Equal(t, q, on)
	assert.Equal(t, m, once)
}

// Of two quads about one place the first alone is measured ahead; and a light square is not.
func TestThePlacesFirstQuadIsMeasuredAhead(t *testing.T) {
	p := darkSquare(t)
	square := func(a, b float64) [4]Pixel {
		return [4]Pixel{{X: a, Y: a}, {X: b, Y: a}, {X: b, Y: b}, {X: a, Y: b}}
	}
	s := search{plane: p, d: &Diagnostics{}, mirrored: map[int]bool{}}
	all := s.begin([][4]Pixel{square(80, 219), square(81, 218), square(10, 60)}, 4)
	require.Len(t, all, 3)
	assert.True(t, all[0].wasRefined)
	assert.False(t, all[1].wasRefined)
	assert.True(t, all[1].wasRead)
	assert.False(t, all[2].wasRefined)
}
