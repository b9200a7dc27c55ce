package imprint

import (
	"context"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"sitspan/calibration"
	"sitspan/imprint/codes"
	"sitspan/imprint/judge"
	"sitspan/imprint/relief"
)

// misread is a look at a bundled foam photo whose left centre the net has put off by some mm.
func misread(t *testing.T, m *Meter, name string, off float64) *sight {
	t.Helper()
	s := Settings{Medium: calibration.Foam}
	v, err := m.look(context.Background(), read(t, name), s)
	require.NoError(t, err)
	require.True(t, v.read)
	v.reading.Left.At.X += off
	v.conclude(s)
	v.crossCheck(s)
	return v
}

// A sound reading passes; one that is off by 12 mm, a size and more, as the darkest spot is
// (docs/measurement-model.md: 8 to 15 mm), goes to review with both numbers, and the overlay gets the
// shading's centres.
func TestTheShadingContradictsAMisreadDent(t *testing.T) {
	m := meter(t)
	for _, name := range []string{"foam-window.jpg", "foam-two-lamps.jpg"} {
		sound := misread(t, m, name, 0)
		require.Equal(t, Measured, sound.m.Status, "%s: %v", name, sound.m.Reasons)
		for _, off := range []float64{-12, 12} {
			v := misread(t, m, name, off)
			require.Equal(t, Review, v.m.Status, "%s, %+.0f mm", name, off)
			require.NotNil(t, v.m.Spacing, "a review has its number")
			require.Contains(t, codesOf(v.m), "readings_disagree")
			r := v.m.Reasons[len(v.m.Reasons)-1]
			assert.Equal(t, codes.ShadingDisagrees.Key(), r.Key())
			assert.InDelta(t, v.m.Spacing.Value, r.Params["net"], 1e-9)
			assert.Greater(t, r.Params["times"], judge.ReadingsApart.Value)
			require.Len(t, v.m.Rejected, len(sound.m.Rejected)+2)
			// the shading's left centre lies nearer to where the dent is than the misread one
			shading, dent := v.m.Rejected[len(v.m.Rejected)-2].Pixel, sound.m.Left.Pixel
			assert.Less(t, shading.Distance(dent), v.m.Left.Pixel.Distance(dent))
		}
	}
}

// What the shading cannot say, or is not asked, changes nothing.
func TestNoCrossCheckWithoutAnOpinion(t *testing.T) {
	m := meter(t)
	s := Settings{Medium: calibration.Paper}
	paper, err := m.Measure(context.Background(), read(t, "paper-1.jpg"), s)
	require.NoError(t, err)
	require.NotContains(t, codesOf(paper), "readings_disagree")
	v := misread(t, m, "foam-window.jpg", 0)
	for i := range v.window.Light {
		v.window.Light[i] = 0.4 // an even window has no shading to speak of
	}
	v.reading.Left.At.X += 12
	v.crossCheck(Settings{Medium: calibration.Foam})
	require.Equal(t, Measured, v.m.Status, "%v", v.m.Reasons)
	v.window = relief.Window{}
	v.crossCheck(Settings{Medium: calibration.Foam})
	require.Equal(t, Measured, v.m.Status)
}
