package imprint

import (
	"context"
	"image"
	"testing"

	"github.com/disintegration/imaging"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"sitspan/calibration"
)

// A photo that cuts a side of the frame off is told from one on which that side is hidden.
func TestASideOutsideThePictureIsSaid(t *testing.T) {
	m := meter(t)
	foam := read(t, "foam-window.jpg").Colour(4000)
	w, h := foam.Bounds().Dx(), foam.Bounds().Dy()
	cut := imaging.Crop(foam, image.Rect(w*25/100, 0, w, h))
	hidden := imaging.Paste(foam, imaging.New(w*25/100, h, image.Black), image.Pt(0, 0))
	for _, c := range []struct {
		photo image.Image
		want  string
	}{{cut, "outside"}, {hidden, "side"}} {
		got, err := m.Measure(context.Background(), encode(t, c.photo), Settings{Medium: calibration.Foam})
		require.NoError(t, err)
		require.NotEmpty(t, got.Reasons)
		assert.Equal(t, c.want, got.Reasons[0].Form, "%v", got.Reasons)
		assert.Equal(t, "few_marks", got.Reasons[0].Code)
	}
}
