package imprint_test

import (
	"bytes"
	"context"
	"image"
	"os"
	"testing"

	"github.com/disintegration/imaging"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"sitspan/imprint"
	"sitspan/imprint/codes"
	"sitspan/imprint/photo"
)

// savedAgain is a bundled photo as a messenger leaves it: smaller, turned, pressed harder, its EXIF gone.
func savedAgain(t *testing.T, name string) *photo.Photo {
	t.Helper()
	original, err := imaging.Open("../testdata/photos/"+name, imaging.AutoOrientation(true))
	require.NoError(t, err)
	var smaller image.Image = imaging.Sharpen(imaging.Fit(original, 1600, 1600, imaging.Lanczos), 1)
	var out bytes.Buffer
	require.NoError(t, imaging.Encode(&out, imaging.Rotate90(smaller), imaging.JPEG, imaging.JPEGQuality(70)))
	p, err := photo.Decode(out.Bytes(), "again.jpg", photo.Limits{})
	require.NoError(t, err)
	return p
}

func bundled(t *testing.T, name string) *photo.Photo {
	t.Helper()
	data, err := os.ReadFile("../testdata/photos/" + name)
	require.NoError(t, err)
	p, err := photo.Decode(data, name, photo.Limits{})
	require.NoError(t, err)
	return p
}

// A picture that was saved again is no second view: it makes no interval narrower, and gives no depth.
func TestAPictureSavedAgainIsNoSecondView(t *testing.T) {
	meter := newMeter(t)
	first, again := bundled(t, "foam-window.jpg"), savedAgain(t, "foam-window.jpg")
	alone, err := meter.Measure(context.Background(), first, imprint.Settings{})
	require.NoError(t, err)
	m, err := meter.MeasureTogether(context.Background(), []*photo.Photo{first, again}, imprint.Settings{})
	require.NoError(t, err)
	require.Equal(t, imprint.Measured, m.Status, m.Reasons)
	assert.False(t, m.Parts[1].Used)
	assert.True(t, codes.SamePicture.Is(m.Parts[1].Why), m.Parts[1].Why)
	ownU, _ := alone.Expanded()
	u, _ := m.Expanded()
	assert.GreaterOrEqual(t, u, 0.99*ownU)

	m, err = meter.MeasureTogether(context.Background(), []*photo.Photo{bundled(t, "dotted/above.jpg"),
		savedAgain(t, "dotted/above.jpg")}, imprint.Settings{})
	require.NoError(t, err)
	require.Equal(t, imprint.Refused, m.Status)
	assert.True(t, codes.OnePhotoOfDots.Is(m.Reasons[0]), m.Reasons)
}
