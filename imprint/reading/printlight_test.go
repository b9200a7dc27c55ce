package reading

import (
	"bytes"
	"image/jpeg"
	"math"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"sitspan/calibration"
	"sitspan/calibration/artwork"
	"sitspan/imprint/homography"
	"sitspan/imprint/judge"
	"sitspan/imprint/photo"
	"sitspan/imprint/relief"
	"sitspan/imprint/scale"
)

// drawn is the frame as it is drawn for the printer, as a photo, and where its points are in it.
func drawn(
	t *testing.T,
	medium calibration.Medium,
	paper artwork.Paper,
) (*photo.Photo, func(relief.Point) homography.Pixel) {
	t.Helper()
	d, err := artwork.Draw(calibration.ControlFrame, artwork.Options{Paper: paper, Medium: medium})
	require.NoError(t, err)
	g, err := d.Raster(150)
	require.NoError(t, err)
	var jpg bytes.Buffer
	require.NoError(t, jpeg.Encode(&jpg, g, &jpeg.Options{Quality: 92}))
	p, err := photo.Decode(jpg.Bytes(), "made.jpg", photo.Limits{})
	require.NoError(t, err)
	var v judge.Verdict
	plane, _ := scale.FindFrame(&v, p, p.Grey())
	require.NotNil(t, plane, "a drawn frame has no noise at all, and is a frame: %v", v.Reasons)
	return p, func(q relief.Point) homography.Pixel { return plane.Fit.ImageFromPlane(homography.PlanePoint(q)) }
}

// The words and figures that the frame itself carries do not darken its white. Under even light all patches
// are alike: to a grey level or two of a white near 230, which is 2 %.
func TestTheFramesOwnWordsAreNoShadow(t *testing.T) {
	for _, medium := range []calibration.Medium{calibration.Foam, calibration.Paper} {
		for _, paper := range []artwork.Paper{artwork.A4, artwork.Letter} {
			p, place := drawn(t, medium, paper)
			light, err := patchLight(p.Grey(), place, nil)
			require.NoError(t, err)
			for i, l := range light {
				assert.InDelta(t, 0, math.Log(l), 0.02, "%s, %s, patch %v", medium, paper, relief.Patches[i])
			}
		}
	}
}
