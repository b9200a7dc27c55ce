package reading

import (
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"sitspan/imprint/relief"
)

// On paper only that is glare which the light on the frame's white does not burn out, too; on foam all is.
func TestBrightPaperIsNoGlare(t *testing.T) {
	white := func(level float64) relief.FrameLight {
		light := make([]float64, len(relief.Patches))
		for i := range light {
			light[i] = relief.Linear(level)
		}
		f, ok := relief.FitFrameLight(light)
		require.True(t, ok)
		return f
	}
	w := relief.Window{Light: make([]float64, relief.Cells)}
	for i := range w.Light {
		w.Light[i] = relief.Linear(200)
		if i%4 == 0 {
			w.Light[i] = relief.Linear(burntOut)
		}
	}
	for level, paper := range map[float64]float64{whiteSafe - 1: 0.25, whiteSafe + 1: 0} {
		w.Frame = white(level)
		assert.InDelta(t, paper, BurntShare(w, true), 1e-9, "the frame's white at %.0f", level)
		assert.InDelta(t, 0.25, BurntShare(w, false), 1e-9)
	}
	w.Frame = relief.FrameLight{}
	assert.Zero(t, BurntShare(w, true), "nothing is known of the light")
}
