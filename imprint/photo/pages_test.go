package photo

import (
	"bytes"
	"encoding/binary"
	"image"
	"image/color"
	"os"
	"path/filepath"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"golang.org/x/image/tiff"
)

// pagesOf joins pictures to one TIFF: each is written by itself, its places moved to
// where it comes to lie, and the directories chained.
func pagesOf(t *testing.T, kinds ...uint32) []byte {
	t.Helper()
	var out []byte
	var last int // where the place of the next directory is kept
	for i, kind := range kinds {
		m := image.NewGray(image.Rect(0, 0, 20+i, 10))
		for k := range m.Pix {
			m.Pix[k] = color.Gray{Y: uint8(10 * (i + 1))}.Y
		}
		var b bytes.Buffer
		require.NoError(t, tiff.Encode(&b, m, nil))
		data, moved := b.Bytes(), len(out)
		le := binary.LittleEndian
		at := int(le.Uint32(data[4:]))
		n := int(le.Uint16(data[at:]))
		for e := range n {
			entry := data[at+2+12*e:]
			size := map[uint16]int{1: 1, 2: 1, 3: 2, 4: 4, 5: 8}[le.Uint16(entry[2:])] * int(
				le.Uint32(entry[4:]),
			)
			if tag := le.Uint16(entry); size > 4 || tag == 273 { // 273: the picture's own place
				le.PutUint32(entry[8:], le.Uint32(entry[8:])+uint32(moved))
			}
			if le.Uint16(entry) == 256 && kind != 0 { // before the width, as 254 comes first
				le.PutUint16(entry, newSubfileType)
				le.PutUint32(entry[8:], kind)
			}
		}
		if last > 0 {
			le.PutUint32(out[last:], uint32(moved+at))
		}
		last = moved + at + 2 + 12*n
		out = append(out, data...)
	}
	return out
}

// Every page of a TIFF is read as if it were alone; reduced copies and masks are none.
func TestPagesOfATIFF(t *testing.T) {
	data := pagesOf(t, 0, reduced, 0, mask, 2, 0)
	places := Pages(bytes.NewReader(data))
	require.Len(t, places, 4)
	path := filepath.Join(t.TempDir(), "a.tif")
	require.NoError(t, os.WriteFile(path, data, 0o644))
	first, err := Read(path, Limits{})
	require.NoError(t, err)
	seen := map[[32]byte]bool{}
	for page, want := range map[int]int{1: 20, 2: 22, 4: 25} {
		p, err := ReadPage(path, page, Limits{})
		require.NoError(t, err, page)
		assert.Equal(t, want, p.Width, page)
		assert.Equal(t, 4, p.Pages, page)
		seen[p.SHA256] = true
		if page == 1 {
			assert.Equal(t, first.SHA256, p.SHA256)
		} else {
			assert.Equal(t, PageSHA256(first.SHA256, page), p.SHA256)
		}
	}
	assert.Len(t, seen, 3)
	_, err = ReadPage(path, 5, Limits{})
	assert.ErrorContains(t, err, "damaged")
	_, err = ReadPage(path+"x", 2, Limits{})
	assert.ErrorContains(t, err, "there is no such file")
}

// A chain that leads in a circle or out of the file ends; what is no TIFF has none.
func TestBrokenPages(t *testing.T) {
	data := pagesOf(t, 0, 0)
	second := Pages(bytes.NewReader(data))[1]
	n := binary.LittleEndian.Uint16(data[second:])
	next := data[second+2+12*int64(n):]
	for name, to := range map[string]uint32{"a circle": uint32(second), "nowhere": 1 << 30,
		"the end": uint32(len(data) - 3)} {
		binary.LittleEndian.PutUint32(next, to)
		assert.Len(t, Pages(bytes.NewReader(data)), 2, name)
	}
	assert.Empty(t, Pages(bytes.NewReader([]byte("\xff\xd8\xff\xe0 JPEG"))))
	assert.Empty(t, Pages(bytes.NewReader(nil)))
	assert.Error(t, PageAt([]byte("\xff\xd8\xff\xe0 JPEG ....."), 9))
	assert.Error(t, PageAt(data, int64(len(data))))
}

func FuzzPages(f *testing.F) {
	f.Add(
		[]byte(
			"II*\x00\x08\x00\x00\x00\x01\x00\xfe\x00\x04\x00\x01\x00\x00\x00\x01\x00\x00\x00\x08\x00\x00\x00",
		),
	)
	f.Fuzz(func(t *testing.T, data []byte) {
		for _, at := range Pages(bytes.NewReader(data)) {
			if err := PageAt(bytes.Clone(data), at); err != nil && at >= 8 {
				t.Errorf("a page at %d of %d: %v", at, len(data), err)
			}
		}
	})
}
