package bare

import (
	"bytes"
	"encoding/binary"
	"errors"
	"image"
	"image/color"
	"image/jpeg"
	"image/png"
	"os"
	"path/filepath"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"golang.org/x/image/tiff"
	"pgregory.net/rapid"

	"sitspan/imprint/photo"
)

// secrets must not be in a bare file.
var secrets = []string{"GPSPLACE", "OWNERNAME", "SERIAL-4711", "a comment", "MAKERNAME", "second picture",
	"2025:11:25"}

// loaded is a JPEG with all that a phone writes, and secrets in each place.
func loaded(t *testing.T, orientation float64) []byte {
	t.Helper()
	m := image.NewRGBA(image.Rect(0, 0, 64, 48))
	for i := range m.Pix {
		m.Pix[i] = byte(i * 7)
	}
	var b bytes.Buffer
	require.NoError(t, jpeg.Encode(&b, m, nil))
	block := tags{tagOrientation: orientation, tagFocal: 6.8, tagFocal35: 52, tagPixelX: 64, tagPixelY: 48,
		tagZoom: 1}.write(true)
	block = append(block, "GPSPLACE OWNERNAME SERIAL-4711 MAKERNAME 2025:11:25 10:00:00"...)
	comment := []byte{0xff, 0xfe, 0, 2 + 9}
	xmp := append([]byte("http://ns.adobe.com/xap/1.0/\x00"), "OWNERNAME"...)
	out := append([]byte{0xff, 0xd8}, exifSegment(append([]byte("Exif\x00\x00"), block...))...)
	out = append(out, exifSegment(xmp)...)
	out = append(append(out, comment...), "a comment"...)
	out = append(out, b.Bytes()[2:]...)
	return append(out, "second picture GPSPLACE"...)
}

// requireSame checks that both files say the same to whoever measures.
func requireSame(t *testing.T, before, after []byte, pixels bool) {
	t.Helper()
	a, err := photo.Decode(before, "before", photo.Limits{})
	require.NoError(t, err)
	b, err := photo.Decode(after, "after", photo.Limits{})
	require.NoError(t, err)
	assert.Equal(t, [2]int{a.Width, a.Height}, [2]int{b.Width, b.Height})
	assert.Equal(t, a.HasCamera, b.HasCamera)
	assert.Equal(t, a.Focal35, b.Focal35)
	assert.InDelta(t, a.FocalLength, b.FocalLength, 1e-6)
	if a.Density == nil {
		assert.Nil(t, b.Density)
	} else {
		require.NotNil(t, b.Density)
		assert.InDelta(t, a.Density.X, b.Density.X, 1e-3)
		assert.InDelta(t, a.Density.Y, b.Density.Y, 1e-3)
	}
	assert.True(t, b.TakenAt.IsZero(), "when it was taken goes, too")
	if pixels {
		assert.Equal(t, a.Orientation, b.Orientation)
		assert.Equal(t, a.FocalDoubts, b.FocalDoubts)
		assert.Equal(t, a.Grey().Pix, b.Grey().Pix, "the pixels are the same")
	}
}

func TestBareJPEGSaysTheSameWithoutSecrets(t *testing.T) {
	for _, orientation := range []float64{1, 3, 6, 8} {
		before := loaded(t, orientation)
		for _, s := range secrets {
			require.Contains(t, string(before), s, "the test's file holds what is to go")
		}
		after, extension, err := Make(before, "x.jpg", photo.Limits{})
		require.NoError(t, err)
		assert.Equal(t, ".jpg", extension)
		for _, s := range secrets {
			assert.NotContains(t, string(after), s)
		}
		requireSame(t, before, after, true)
	}
}

func TestBarePhotosMeasureTheSame(t *testing.T) {
	paths, err := filepath.Glob("../../../../testdata/photos/*.jpg")
	require.NoError(t, err)
	require.NotEmpty(t, paths)
	for _, path := range paths {
		before, err := os.ReadFile(path)
		require.NoError(t, err)
		after, _, err := Make(before, path, photo.Limits{})
		require.NoError(t, err)
		requireSame(t, before, after, true)
		again, _, err := Make(after, path, photo.Limits{})
		require.NoError(t, err)
		assert.Equal(t, after, again, "a bare file stays as it is")
	}
}

func TestBarePNGKeepsItsResolution(t *testing.T) {
	var b bytes.Buffer
	require.NoError(t, png.Encode(&b, image.NewGray(image.Rect(0, 0, 30, 20))))
	phys := binary.BigEndian.AppendUint32(binary.BigEndian.AppendUint32(nil, 5906), 5906) // 150 dpi
	before := insert(b.Bytes(), len(pngHead)+25, chunk("pHYs", append(phys, 1)))
	before = insert(before, len(pngHead)+25, chunk("tEXt", []byte("Author\x00OWNERNAME")))
	before = append(before, "second picture"...)
	after, extension, err := Make(before, "x.png", photo.Limits{})
	require.NoError(t, err)
	assert.Equal(t, ".png", extension)
	assert.NotContains(t, string(after), "OWNERNAME")
	assert.NotContains(t, string(after), "second picture")
	requireSame(t, before, after, true)
}

func TestOtherFormatsAreWrittenAnew(t *testing.T) {
	m := image.NewGray(image.Rect(0, 0, 40, 30))
	for i := range m.Pix {
		m.Pix[i] = byte(i)
	}
	m.SetGray(3, 4, color.Gray{200})
	var b bytes.Buffer
	require.NoError(t, tiff.Encode(&b, m, nil))
	after, extension, err := Make(b.Bytes(), "x.tif", photo.Limits{})
	require.NoError(t, err)
	assert.Equal(t, ".png", extension)
	requireSame(t, b.Bytes(), after, false)
	p, err := photo.Decode(after, "after", photo.Limits{})
	require.NoError(t, err)
	assert.Equal(t, m.Pix, p.Grey().Pix)
}

func TestNoPictureIsRefused(t *testing.T) {
	_, _, err := Make([]byte("hello"), "x.jpg", photo.Limits{})
	var r *photo.ReadError
	require.True(t, errors.As(err, &r))
}

func TestTagsSurviveWriting(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		want := tags{}
		for _, tag := range []uint16{tagOrientation, tagXResolution, tagFocal, tagPixelX, tagZoom, tagFocal35} {
			if rapid.Bool().Draw(t, "known") {
				want[tag] = float64(rapid.IntRange(1, 4000).Draw(t, "value"))
			}
		}
		got := readTags(want.write(rapid.Bool().Draw(t, "camera")))
		if len(got) != len(want) {
			t.Fatalf("wrote %v, read %v", want, got)
		}
		for tag, v := range want {
			if got[tag] != v {
				t.Fatalf("tag %x: wrote %v, read %v", tag, v, got[tag])
			}
		}
	})
}

func FuzzReadTags(f *testing.F) {
	f.Add(tags{tagOrientation: 6, tagFocal: 6.8}.write(true))
	f.Add([]byte("II*\x00\x08\x00\x00\x00\xff\xff"))
	f.Fuzz(func(t *testing.T, block []byte) {
		for tag := range readTags(block) {
			if !stays(tag, true) && !stays(tag, false) {
				t.Fatalf("tag %x is not to stay", tag)
			}
		}
	})
}

func FuzzMakeJPEG(f *testing.F) {
	f.Add([]byte("\xff\xd8\xff\xe1\x00\x08Exif\x00\x00\xff\xd9"))
	f.Fuzz(func(t *testing.T, data []byte) {
		if len(data) < 2 {
			return
		}
		out, err := fromJPEG(data, &photo.Photo{})
		if err == nil && len(out) > len(data)+200 {
			t.Fatalf("%d bytes became %d", len(data), len(out))
		}
	})
}
