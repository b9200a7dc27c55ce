package imprint

import (
	"context"
	"fmt"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"sitspan/calibration"
)

// On a photo of paper the density model reads, its budget says so, and it agrees with the net.
func TestPaperIsReadByItsDensity(t *testing.T) {
	m := meter(t)
	for _, one := range truths(t) {
		if one.Kind == "foam" {
			continue
		}
		v, err := m.look(context.Background(), read(t, one.Name), settingsFor(one))
		require.NoError(t, err)
		require.True(t, v.byInk, one.Name)
		v.conclude(Settings{Medium: calibration.Paper})
		require.NotNil(t, v.m.Spacing, one.Name)
		require.NotContains(t, codes(v.m), "readings_disagree", one.Name)
		said := false
		for _, c := range v.m.Spacing.Budget {
			if c.Source == "left centre" {
				said = true
				assert.Contains(t, c.Basis, "density of the ink", one.Name)
			}
		}
		require.True(t, said, one.Name)
	}
}

// A net that has put a centre 14 mm off, a size and more, is contradicted by the density, which finds the mark: the
// photo goes to review with both numbers.
func TestTheDensityContradictsAMisreadMark(t *testing.T) {
	m := meter(t)
	s := Settings{Medium: calibration.Paper}
	sound, err := m.look(context.Background(), read(t, "paper-1.jpg"), s)
	require.NoError(t, err)
	require.Equal(t, Measured, sound.m.Status)
	for _, off := range []float64{-14, 14} {
		v, err := m.look(context.Background(), read(t, "paper-1.jpg"), s)
		require.NoError(t, err)
		v.m.Status, v.m.Reasons = Measured, nil
		v.reading.Left.At.X += off
		v.reading.VarSpacing = 1
		net := v.reading.Distance()
		require.NoError(t, v.readInk(v.photo.Grey(), v.window.Frame))
		require.Equal(t, Review, v.m.Status, "%+.0f mm", off)
		r := v.m.Reasons[len(v.m.Reasons)-1]
		require.Equal(t, "readings_disagree", r.Code)
		assert.Contains(t, r.Message, fmt.Sprintf("the net reads %.1f mm", net))
		assert.Contains(t, r.Message, fmt.Sprintf("the density of the ink %.1f mm", v.reading.Distance()))
		assert.Less(t, v.reading.Left.At.X-sound.reading.Left.At.X, 2.0, "the density still finds the mark")
		assert.Greater(t, v.reading.Left.At.X-sound.reading.Left.At.X, -2.0)
	}
}
