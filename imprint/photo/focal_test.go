package photo

import (
	"fmt"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// What may be wrong with the stated focal length. Source of the tags: EXIF
// 2.3x (0xA405: 0 = unknown; PixelXDimension and PixelYDimension are those of
// the picture as the camera wrote it); of the shapes: common practice.
func TestFocalDoubts(t *testing.T) {
	tests := []struct {
		name string
		exif exif
		w, h int
		want []FocalDoubt
	}{
		{"as taken", exif{focal35: 26, width: 4032, height: 3024}, 4032, 3024, nil},
		{"as taken, upright", exif{focal35: 26, width: 4032, height: 3024}, 3024, 4032, nil},
		{"no pixel dimensions", exif{focal35: 26}, 4032, 3024, []FocalDoubt{FocalUnchecked}},
		{"3:2", exif{focal35: 35, width: 6000, height: 4000}, 6000, 4000, nil},
		{"unknown", exif{}, 4032, 3024, []FocalDoubt{FocalMissing}},
		{"reduced", exif{focal35: 26, width: 4032, height: 3024}, 2016, 1512, []FocalDoubt{FocalResaved}},
		{"reduced, rounded", exif{focal35: 26, width: 4032, height: 3024}, 1000, 750, []FocalDoubt{FocalResaved}},
		{"reduced, rounded down", exif{focal35: 26, width: 4000, height: 2992}, 1001, 748,
			[]FocalDoubt{FocalResaved}},
		{"cropped to 4:3 by 2 %", exif{focal35: 26, width: 4100, height: 3024}, 4032, 3024,
			[]FocalDoubt{FocalCropped}},
		{"cropped to a square", exif{focal35: 26, width: 4032, height: 3024}, 3024, 3024,
			[]FocalDoubt{FocalCropped, FocalOddShape}},
		{"16:9 from the camera", exif{focal35: 26, width: 4032, height: 2268}, 4032, 2268,
			[]FocalDoubt{FocalOddShape}},
		{"a square from the camera", exif{focal35: 26, width: 3024, height: 3024}, 3024, 3024,
			[]FocalDoubt{FocalOddShape}},
		{"a whole screen, 19.5:9", exif{focal35: 26, width: 1860, height: 4032}, 1860, 4032,
			[]FocalDoubt{FocalOddShape}},
		{"cropped in a gallery that writes new pixel dimensions", exif{focal35: 26, width: 3500, height: 2900},
			3500, 2900, []FocalDoubt{FocalNoCamera}},
		{"zoomed", exif{focal35: 26, zoom: 2, width: 4032, height: 3024}, 4032, 3024, []FocalDoubt{FocalZoomed}},
		{"not zoomed", exif{focal35: 26, zoom: 1.0005, width: 4032, height: 3024}, 4032, 3024, nil},
	}
	for _, test := range tests {
		t.Run(test.name, func(t *testing.T) {
			got := focalDoubts(test.exif, test.w, test.h)
			assert.Equal(t, test.want, got)
			byHand := strings.HasPrefix(test.name, "cropped")
			assert.Equal(t, byHand, (&Photo{FocalDoubts: got}).Cropped())
		})
	}
}

func TestFocalBasis(t *testing.T) {
	assert.Equal(t, "EXIF FocalLengthIn35mmFilm", (&Photo{Focal35: 26}).FocalBasis())
	assert.Equal(t, "the file states no 35 mm focal length",
		(&Photo{FocalDoubts: []FocalDoubt{FocalMissing}}).FocalBasis())
	for _, d := range []FocalDoubt{FocalMissing, FocalCropped, FocalResaved, FocalUnchecked, FocalOddShape,
		FocalNoCamera, FocalZoomed} {
		assert.NotEmpty(t, d.String())
	}
}

func TestCameraEXIF(t *testing.T) {
	p, err := Decode(jpegFile(t, sample().grey(8), exifSegment(cameraBlock(6, 48, 32))), "a.jpg", Limits{})
	require.NoError(t, err)
	assert.Equal(t, 26.0, p.Focal35)
	assert.Equal(t, 6.8, p.FocalLength)
	assert.True(t, p.HasCamera)
	assert.Empty(t, p.FocalDoubts)
	assert.True(t, time.Date(2026, 5, 14, 8, 24, 0, 0, time.UTC).Equal(p.TakenAt), p.TakenAt)
}

// Nothing of the place or the maker is kept: the block states both, the Photo
// shows none. The model is: photos by one phone share a lens.
func TestNoPlaceIsKept(t *testing.T) {
	block := cameraBlock(1, 48, 32)
	require.Contains(t, string(block), "Pocket camera")
	p, err := Decode(jpegFile(t, sample().grey(8), exifSegment(block)), "a.jpg", Limits{})
	require.NoError(t, err)
	assert.Equal(t, "Pocket camera", p.Model)
	seen := fmt.Sprintf("%+v", *p)
	assert.NotContains(t, seen, "Field")
	for name := range wanted {
		assert.False(t, strings.HasPrefix(name, "GPS"), name)
	}
}

// A clock without an offset is kept as it stands; nonsense is no time.
func TestParseTime(t *testing.T) {
	assert.Equal(t, time.Date(2026, 5, 14, 10, 24, 0, 0, time.UTC), parseTime("2026:05:14 10:24:00", ""))
	assert.Equal(t, time.Date(2026, 5, 14, 10, 24, 0, 0, time.UTC), parseTime("2026:05:14 10:24:00", "   "))
	assert.True(t, parseTime("0000:00:00 00:00:00", "").IsZero())
	assert.True(t, parseTime("", "+02:00").IsZero())
}

// A block that breaks off leaves what came before it, and never an error.
func TestDamagedEXIFIsUnknown(t *testing.T) {
	block := cameraBlock(6, 48, 32)
	for n := range block {
		p, err := Decode(jpegFile(t, sample().stored(6).grey(8), exifSegment(block[:n])), "a.jpg", Limits{})
		require.NoError(t, err)
		require.Contains(t, []int{1, 6}, p.Orientation)
		require.Contains(t, []float64{0, 26}, p.Focal35)
	}
}
