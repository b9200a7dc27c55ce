package intake

import (
	"bytes"
	"context"
	"encoding/binary"
	"image"
	"os"
	"path/filepath"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"golang.org/x/image/tiff"

	"sitspan/cmd/sitspan/internal/record"
	"sitspan/cmd/sitspan/internal/shop"
	"sitspan/imprint/photo"
)

// A TIFF of several pages is not taken for one picture in silence.
func TestFurtherPagesAreTold(t *testing.T) {
	for pages, warned := range map[int]int{0: 0, 1: 0, 3: 1} {
		o := toldPages(Outcome{Record: record.Record{Measurement: record.Measurement{Status: record.Refused}}},
			&photo.Photo{Pages: pages}, &photo.Photo{Pages: pages})
		require.Len(t, o.Record.Measurement.Warnings, warned, pages)
		if warned > 0 {
			assert.Contains(t, o.Record.Measurement.Warnings[0].Message, "the file has 3 pages, and only the first")
		}
	}
	path := filepath.Join(t.TempDir(), "two.tif")
	require.NoError(t, os.WriteFile(path, twoPages(t), 0o600))
	s, err := NewStation(Options{Shop: shop.Default()})
	require.NoError(t, err)
	defer s.Close()
	m := s.Measure(context.Background(), path).Record.Measurement
	require.NotEmpty(t, m.Warnings)
	assert.Equal(t, "pages", m.Warnings[0].Code)
}

// twoPages is a TIFF whose second page is its first once more.
func twoPages(t *testing.T) []byte {
	var b bytes.Buffer
	require.NoError(t, tiff.Encode(&b, image.NewGray(image.Rect(0, 0, 64, 48)), nil))
	data, le := b.Bytes(), binary.LittleEndian
	at := int(le.Uint32(data[4:]))
	n := 2 + 12*int(le.Uint16(data[at:]))
	second := append([]byte(nil), data[at:at+n+4]...)
	le.PutUint32(data[at+n:], uint32(len(data)))
	return append(data, second...)
}

// Photos of one imprint are compared with the joint result in the quantity that both state, and sittings have
// their photos' names.
func TestPartsAreNamedAndComparedAlike(t *testing.T) {
	s, err := NewStation(Options{Shop: shop.Default()})
	require.NoError(t, err)
	defer s.Close()
	dir := photos + "together/"
	joint := s.Together(context.Background(), []string{dir + "above.jpg", dir + "side-1.jpg"}).Record.Measurement
	require.NotNil(t, joint.Spacing)
	require.Len(t, joint.Photos, 2)
	for _, p := range joint.Photos {
		require.NotNil(t, p.Spacing)
		assert.InDelta(t, *p.Spacing-*joint.Spacing, *p.Difference, 1e-9, p.Photo)
	}

	m := s.Sittings(context.Background(), [][]string{{dir + "above.jpg", dir + "side-1.jpg"},
		{dir + "side-2.jpg"}}).Record.Measurement
	require.Len(t, m.Sittings, 2)
	assert.Equal(t, "above.jpg,side-1.jpg", m.Sittings[0].Photo)
	assert.Equal(t, "side-2.jpg", m.Sittings[1].Photo)
}
