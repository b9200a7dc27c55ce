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

// Blurred until no mark is to be seen, or shaken along the columns only: that is blur, and not a missing
// frame.
func TestBlurIsNamedWhereNoMarkIsLeft(t *testing.T) {
	m := meter(t)
	foam := read(t, "foam-two-lamps.jpg").Colour(1000)
	for name, img := range map[string]image.Image{"out of focus": imaging.Blur(foam, 9),
		"shaken": shake(foam, 20)} {
		got, err := m.Measure(context.Background(), encode(t, img), Settings{Medium: calibration.Foam})
		require.NoError(t, err)
		require.Equal(t, Refused, got.Status, name)
		assert.Equal(t, []string{"blur"}, codesOf(got), name)
	}
}

// shake moves a picture along its columns by reach px either way while it is taken.
func shake(img *image.NRGBA, reach int) *image.NRGBA {
	shaken := imaging.Clone(img)
	for i := range shaken.Pix {
		sum, n := 0, 0
		for k := -reach; k <= reach; k++ {
			if j := i + k*shaken.Stride; j >= 0 && j < len(shaken.Pix) {
				sum, n = sum+int(img.Pix[j]), n+1
			}
		}
		shaken.Pix[i] = uint8(sum / n)
	}
	return shaken
}

// Shaken more and more, the marks move off their plane and go one by one: as long as some are left the first
// reason is blur, too, and not that the frame is bent or hidden.
func TestBlurIsNamedWhereItMovesMarks(t *testing.T) {
	m := meter(t)
	foam := imaging.Clone(read(t, "foam-two-lamps.jpg").Colour(1000))
	moved := 0
	for reach := 2; reach <= 9; reach++ {
		got, err := m.Measure(
			context.Background(),
			encode(t, shake(foam, reach)),
			Settings{Medium: calibration.Foam},
		)
		require.NoError(t, err)
		if len(got.Reasons) > 0 {
			require.Equal(
				t,
				"blur",
				got.Reasons[0].Code,
				"%d px either way, %d marks: %v",
				reach,
				got.Marks,
				got.Reasons,
			)
			if got.Marks > 0 {
				moved++
			}
		}
	}
	require.NotZero(t, moved, "no picture was doubted that had marks left")
}
