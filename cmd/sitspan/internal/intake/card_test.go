package intake

import (
	"bytes"
	"context"
	"encoding/hex"
	"image"
	"image/jpeg"
	"os"
	"path/filepath"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"sitspan/cmd/sitspan/internal/shop"
)

const photos = "../../../../testdata/photos/"

// A joint measurement is shown on the first photo that took part: its pixels, its size, its plane. Here the
// first photo has no scale at all, and the second a card.
func TestAJointMeasurementIsShownOnItsOwnPicture(t *testing.T) {
	s, err := NewStation(Options{Shop: shop.Default(), Medium: "paper"})
	require.NoError(t, err)
	defer s.Close()
	grey := filepath.Join(t.TempDir(), "grey.jpg")
	var b bytes.Buffer
	require.NoError(t, jpeg.Encode(&b, image.NewGray(image.Rect(0, 0, 1200, 900)), nil))
	require.NoError(t, os.WriteFile(grey, b.Bytes(), 0o600))
	o := s.Together(context.Background(), []string{grey, photos + "card-1.jpg", photos + "card-2.jpg"})
	m := o.Record.Measurement
	require.NoError(t, o.Record.Check())
	require.Positive(t, m.Shown, "the grey one shows nothing")
	assert.NotNil(t, o.Record.Photos[m.Shown].Card)
	used := o.Record.Measurement.Photos[m.Shown]
	assert.True(t, used.Used)
	for _, p := range m.Photos[:m.Shown] {
		assert.False(t, p.Used, "it is the first that took part")
	}
	assert.Equal(t, o.Record.Photos[m.Shown].Name, m.Photo)
	assert.Equal(t, hex.EncodeToString(o.photo.SHA256[:]), o.Record.Photos[m.Shown].SHA256,
		"the picture that is drawn on")
}
