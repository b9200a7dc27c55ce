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

// seenAs is a bundled photo's picture after a change, without EXIF.
func seenAs(t *testing.T, name string, change func(*image.NRGBA) image.Image) *photo.Photo {
	t.Helper()
	original, err := imaging.Open("../testdata/photos/"+name, imaging.AutoOrientation(true))
	require.NoError(t, err)
	var out bytes.Buffer
	changed := change(imaging.Clone(original))
	require.NoError(t, imaging.Encode(&out, changed, imaging.JPEG, imaging.JPEGQuality(90)))
	p, err := photo.Decode(out.Bytes(), "other.jpg", photo.Limits{})
	require.NoError(t, err)
	return p
}

// A picture is the same one only where both the marks lie alike and the window is lit alike: a phone on a
// stand with the lamp moved, and one that was moved under the same lamp, give views of their own.
func TestWhatDiffersInPlaceOrLightIsAnotherView(t *testing.T) {
	meter := newMeter(t)
	for name, change := range map[string]func(*image.NRGBA) image.Image{
		"another light": func(m *image.NRGBA) image.Image {
			wide := m.Bounds().Dx()
			for i := range m.Pix {
				if i%4 < 3 {
					m.Pix[i] = uint8(float64(m.Pix[i]) * (1 - 0.8*float64(i%m.Stride/4)/float64(wide)))
				}
			}
			return m
		},
		"another place": func(m *image.NRGBA) image.Image { // as from aside: narrower by a thirtieth
			return imaging.Resize(m, m.Bounds().Dx()*29/30, m.Bounds().Dy(), imaging.Lanczos)
		},
	} {
		m, err := meter.MeasureTogether(context.Background(), []*photo.Photo{bundled(t, "foam-window.jpg"),
			seenAs(t, "foam-window.jpg", change)}, imprint.Settings{})
		require.NoError(t, err)
		require.Len(t, m.Parts, 2)
		assert.False(t, codes.SamePicture.Is(m.Parts[1].Why), name)
	}
}
