package imprint

import (
	"context"
	"image"
	"testing"

	"github.com/stretchr/testify/require"

	"sitspan/calibration"
	"sitspan/imprint/homography"
	"sitspan/imprint/reading"
	"sitspan/imprint/relief"
)

// Beside a card or a rule foam is looked at where it is with the frame: where the lines of sight through the
// plane 10 mm below meet the reference's own. From 190 mm above, that is at 190/200 of each cell's distance
// from the foot point (equation (1) by hand).
func TestFoamBesideAReferenceIsReadBelowIt(t *testing.T) {
	grey := image.NewGray(image.Rect(0, 0, 400, 300))
	card, err := meter(
		t,
	).Measure(
		context.Background(),
		read(t, "card-1.jpg"),
		Settings{Medium: calibration.Paper},
	)
	require.NoError(t, err)
	require.NotNil(t, card.Reference)
	r := *card.Reference
	r.Camera = &homography.Camera{Position: homography.PlanePoint{X: 20, Y: -40}, Height: 190}
	var seen []relief.Point
	w, err := (&reading.Beside{}).FoamWindow(grey, &r, func(q relief.Point) homography.Pixel {
		seen = append(seen, q)
		return homography.Pixel{X: 200 + q.X, Y: 150 + q.Y}
	})
	require.NoError(t, err)
	require.Equal(t, relief.View{X: 20, Y: -40, Height: 190}, w.View)
	require.Len(t, seen, relief.Cells)
	for _, i := range []int{0, 3000, relief.Cells - 1} {
		p := relief.At(i)
		require.InDelta(t, 20+0.95*(p.X-20), seen[i].X, 1e-9)
		require.InDelta(t, -40+0.95*(p.Y+40), seen[i].Y, 1e-9)
	}
}
