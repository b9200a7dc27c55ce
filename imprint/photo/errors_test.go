package photo

import (
	"bytes"
	"encoding/binary"
	"os"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// requireCode decodes data and checks that it is refused with this code, in one
// clear line.
func requireCode(t *testing.T, want Code, data []byte) *ReadError {
	t.Helper()
	_, err := Decode(data, "a photo", Limits{})
	return requireReadError(t, want, err)
}

func requireReadError(t *testing.T, want Code, err error) *ReadError {
	t.Helper()
	var e *ReadError
	require.ErrorAs(t, err, &e)
	require.Equal(t, want, e.Code, err)
	require.NotEmpty(t, e.Seen)
	require.NotEmpty(t, e.Needed)
	require.NotEmpty(t, e.Hint)
	require.NotContains(t, err.Error(), "\n")
	return e
}

// Files that are no photos, or broken ones. Each is refused in one line that
// names what was seen.
func TestPoisonedFiles(t *testing.T) {
	picture := sample().grey(blockWidth)
	phone := phoneHEIC(3, -1, cameraBlock(6, 240, 160)).build(t)
	lossy, err := os.ReadFile("testdata/lossy.webp")
	require.NoError(t, err)
	half := func(b []byte) []byte { return b[:len(b)/2] }
	ftyp := func(brands string) []byte { return box("ftyp", []byte(brands)) }
	tests := []struct {
		name string
		data []byte
		code Code
		seen string
	}{
		{"nothing", nil, EmptyFile, "0 bytes"},
		{"one byte", []byte{0xff}, NotAPhoto, "no picture"},
		{"text", []byte("left 61 mm, right 62 mm\n"), NotAPhoto, "text"},
		{"zeros", make([]byte, 5000), NotAPhoto, "no picture"},
		{"JPEG signature only", []byte{0xff, 0xd8, 0xff}, Truncated, "JPEG"},
		{"half a JPEG", half(jpegFile(t, inRGBA(picture))), Truncated, "JPEG"},
		{"JPEG without its end", jpegFile(t, picture)[:700], Truncated, "JPEG"},
		{"half a PNG", half(pngFile(t, picture)), Truncated, "PNG"},
		{"PNG signature only", []byte("\x89PNG\r\n\x1a\n"), Truncated, "PNG"},
		{"half a WebP", half(lossy), Truncated, "WebP"},
		{"half a HEIC", half(phone), Truncated, "HEIC"},
		{"HEIC without its last bytes", phone[:len(phone)-300], Truncated, "HEIC"},
		{"half a HEIC header", phone[:20], Truncated, "HEIC"},
		{"HEIC without boxes", ftyp("heic\x00\x00\x00\x00heic"), Damaged, "HEIC"},
		{"PNG of another size", pngOfSize(t, 100_000, 100_000), TooManyPixels, "100000 x 100000"},
		{"PNG of no size", pngOfSize(t, 0, 100), Damaged, "PNG"},
		{"PNG with a wrong checksum", corrupt(pngFile(t, picture), 50), Damaged, "PNG"},
		{"JPEG with a wrong frame header", []byte{0xff, 0xd8, 0xff, 0xc0, 0, 11, 8, 0, 8, 0, 8, 3, 1, 0x11, 0, 0xff,
			0xd9}, Damaged, "JPEG"},
		{"JPEG in 12 bits", []byte{0xff, 0xd8, 0xff, 0xc1, 0, 11, 12, 0, 8, 0, 8, 1, 1, 0x11, 0}, UnsupportedFormat,
			"JPEG"},
		{"TIFF of a fax's length", tiffBlock([]tag{{0x0100, uint32(70_000)}, {0x0101, uint32(70_000)},
			{0x0102, uint16(8)}, {0x0103, uint16(1)}, {0x0106, uint16(1)}}, nil, false, nil), TooManyPixels,
			"70000 x 70000"},
		{"TIFF preview of a raw file", tiffFile(picture, tag{0x00fe, uint32(1)}), UnsupportedFormat, "raw"},
		{"DNG", tiffFile(picture, tag{0xc612, uint32(0x01040000)}), UnsupportedFormat, "raw"},
		{"raw", []byte("II*\x00\x10\x00\x00\x00CR\x02\x00"), UnsupportedFormat, "raw"},
		{"GIF", []byte("GIF89a\x01\x00\x01\x00"), UnsupportedFormat, "GIF"},
		{"PDF", []byte("%PDF-1.7\n"), UnsupportedFormat, "PDF"},
		{"AVIF", ftyp("avif\x00\x00\x00\x00mif1avif"), UnsupportedFormat, "AVIF"},
		{"video", ftyp("qt  \x00\x00\x00\x00qt  "), UnsupportedFormat, "video"},
		{"unknown brand", ftyp("xxxx\x00\x00\x00\x00yyyy"), UnsupportedFormat, "brand"},
	}
	for _, test := range tests {
		t.Run(test.name, func(t *testing.T) {
			e := requireCode(t, test.code, test.data)
			assert.Contains(t, e.Seen, test.seen)
			assert.Equal(t, test.name == "PDF", e.Form == "pdf")
		})
	}
}

// pngOfSize is a whole PNG whose header claims another size.
func pngOfSize(t testing.TB, w, h uint32) []byte {
	data := pngFile(t, sample().grey(1))
	header := bytes.Clone(data[16:29])
	binary.BigEndian.PutUint32(header, w)
	binary.BigEndian.PutUint32(header[4:], h)
	return append(append(bytes.Clone(data[:8]), chunk("IHDR", header)...), data[33:]...)
}

func corrupt(data []byte, at int) []byte {
	data[at] ^= 0xff
	return data
}

// Exactly the limit passes, one more does not.
func TestLimits(t *testing.T) {
	data := pngFile(t, sample().grey(8)) // 48 x 32 px
	size := int64(len(data))
	_, err := Decode(data, "a", Limits{Bytes: size, Pixels: 48 * 32})
	require.NoError(t, err)
	_, err = Decode(data, "a", Limits{Bytes: size - 1})
	requireReadError(t, TooLarge, err)
	_, err = Decode(data, "a", Limits{Pixels: 48*32 - 1})
	requireReadError(t, TooManyPixels, err)
}

func TestErrorNamesTheFileOnOneLine(t *testing.T) {
	_, err := Decode(nil, "pad\n1.jpg", Limits{})
	assert.EqualError(t, err,
		`"pad\n1.jpg": the file is empty (0 bytes) (needed: a JPEG, PNG, TIFF,`+
			` WebP or HEIC picture); copy it again`)
	_, err = Decode(nil, "Müller 3.jpg", Limits{})
	assert.ErrorContains(t, err, "Müller 3.jpg: the file")
	_, err = Decode(nil, "", Limits{})
	assert.Regexp(t, "^the file", err.Error())
}

// A panic in a decoder is an error like any other.
func TestGuardCatchesPanics(t *testing.T) {
	err := guard(func() error { var a []int; _ = a[len(a)]; return nil })
	require.Error(t, err)
	assert.Equal(t, Damaged, decoderError(PNG, err, false).Code)
}
