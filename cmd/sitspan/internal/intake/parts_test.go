package intake

import (
	"context"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"sitspan/cmd/sitspan/internal/shop"
)

// Photos of one imprint are compared with the joint result in the quantity that both state, and sittings have
// their photos' names.
func TestPartsAreNamedAndComparedAlike(t *testing.T) {
	s, err := NewStation(Options{Shop: shop.Default()})
	require.NoError(t, err)
	defer s.Close()
	dir := photos + "together/"
	joint := s.Together(context.Background(), []string{dir + "above.jpg", dir + "side-1.jpg"}).Record.Measurement
	require.NotNil(t, joint.Spacing)
	require.Len(t, joint.Photos, 2)
	for _, p := range joint.Photos {
		require.NotNil(t, p.Spacing)
		assert.InDelta(t, *p.Spacing-*joint.Spacing, *p.Difference, 1e-9, p.Photo)
	}

	m := s.Sittings(context.Background(), [][]string{{dir + "above.jpg", dir + "side-1.jpg"},
		{dir + "side-2.jpg"}}).Record.Measurement
	require.Len(t, m.Sittings, 2)
	assert.Equal(t, "above.jpg,side-1.jpg", m.Sittings[0].Photo)
	assert.Equal(t, "side-2.jpg", m.Sittings[1].Photo)
}
