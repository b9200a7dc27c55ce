package imprint

import (
	"context"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// What is reported are the bottoms that the drawn surfaces have on average, and not those of the
// likeliest one.
func TestTheDrawsAverageIsReported(t *testing.T) {
	m := meter(t)
	var all []*sight
	for _, name := range []string{"dotted/above.jpg", "dotted/side-1.jpg", "dotted/side-2.jpg"} {
		v, err := m.look(context.Background(), read(t, name), Settings{})
		require.NoError(t, err)
		all = append(all, v)
	}
	r, _, err := reliefOf(all)
	require.NoError(t, err)
	u, err := r.Uncertainty()
	require.NoError(t, err)
	got, ok, err := surfaceOf(all).measure(all, Settings{})
	require.NoError(t, err)
	require.True(t, ok)
	left, right := r.Expected(u)
	assert.NotEqual(t, r.Left.X, left.X, "the photos can tell one from the other")
	assert.Equal(t, [2][2]float64{{left.X, left.Y}, {right.X, right.Y}}, got.Relief.Deepest)
	assert.InDelta(t, left.X, got.Left.Point.X, 1e-9)
	assert.InDelta(t, right.Y, got.Right.Point.Y, 1e-9)
}
