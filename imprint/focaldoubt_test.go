package imprint

import (
	"context"
	"math"
	"path/filepath"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"sitspan/calibration"
	"sitspan/imprint/codes"
	"sitspan/imprint/photo"
)

// foam-window.jpg was taken with 52 mm, 2.6 degrees off the vertical (testdata/photos/truth.jsonl).
const windowSpacing = 121.475 // mm

// Nothing confirms a focal length that stands in a file without the picture's first size, and from above the
// frame does not tell it either: then it is less sure, and the result says so.
func TestAnUnconfirmedFocalLengthIsDoubted(t *testing.T) {
	at := func(f35 float64, doubts ...photo.FocalDoubt) *Measurement {
		p := *read(t, "foam-window.jpg")
		p.Focal35, p.FocalDoubts = f35, doubts
		m, err := meter(t).Measure(context.Background(), &p, Settings{Medium: calibration.Foam})
		require.NoError(t, err)
		require.NotNil(t, m.Spacing, "%v", m.Reasons)
		return m
	}
	warned := func(m *Measurement) (n int) {
		for _, w := range m.Warnings {
			if w.Key() == codes.FocalUnchecked.Key() {
				n++
			}
		}
		return n
	}
	sure, unsure := at(52), at(52, photo.FocalUnchecked)
	assert.Zero(t, warned(sure))
	assert.Equal(t, 1, warned(unsure))
	assert.Less(t, sure.Plane.Camera.UHeight(), 0.05*sure.Plane.Camera.Height)
	assert.Greater(t, unsure.Plane.Camera.UHeight(), 0.25*unsure.Plane.Camera.Height)
	file, err := photo.Read(filepath.Join(photos, "../known/bell-2.jpg"), photo.Limits{})
	require.NoError(t, err)
	assert.Equal(t, []photo.FocalDoubt{photo.FocalUnchecked}, file.FocalDoubts)

	// Another lens's entry: sure of it, the interval misses more than it should by the parallax alone.
	for _, f35 := range []float64{26, 52} {
		m := at(f35, photo.FocalUnchecked)
		u, _ := m.Expanded()
		assert.LessOrEqual(t, math.Abs(m.Spacing.Value-windowSpacing), u, "%v mm", f35)
	}
}
