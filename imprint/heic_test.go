package imprint

import (
	"context"
	"math"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"sitspan/calibration"
)

// A HEIC as phones write it, coded anew from a JPEG and turned by its container, gives the JPEG's reading to
// a tenth of its uncertainty, and lies upright in the same way.
func TestAGridOfHEICReadsLikeItsJPEG(t *testing.T) {
	m := meter(t)
	jpeg, heic := read(t, "foam-window.jpg"), read(t, "foam-window.heic")
	assert.Equal(t, [3]int{jpeg.Width, jpeg.Height, jpeg.Orientation}, [3]int{heic.Width, heic.Height,
		heic.Orientation})
	assert.Equal(t, jpeg.Focal35, heic.Focal35)
	assert.Equal(t, jpeg.FocalDoubts, heic.FocalDoubts)
	want, err := m.Measure(context.Background(), jpeg, Settings{Medium: calibration.Foam})
	require.NoError(t, err)
	got, err := m.Measure(context.Background(), heic, Settings{Medium: calibration.Foam})
	require.NoError(t, err)
	require.NotNil(t, want.Spacing)
	require.NotNil(t, got.Spacing)
	u := want.Spacing.Budget.Combined()
	assert.InDelta(t, want.Spacing.Value, got.Spacing.Value, u/10)
	l, r := want.Left.Pixel, want.Right.Pixel
	perMM := math.Hypot(l.X-r.X, l.Y-r.Y) / want.Spacing.Value // px
	for _, side := range [][2]*Depression{{want.Left, got.Left}, {want.Right, got.Right}} {
		assert.InDelta(t, side[0].Pixel.X, side[1].Pixel.X, u*perMM, "the same place of the upright picture")
		assert.InDelta(t, side[0].Pixel.Y, side[1].Pixel.Y, u*perMM)
	}
}
