package bare

import (
	"bytes"
	"encoding/binary"
	"image"
	"image/png"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"sitspan/imprint/photo"
)

// A file that is cut short, or damaged, loses its secrets and keeps its pixels' data.
func TestUnreadJPEGHasNoSecrets(t *testing.T) {
	whole := loaded(t, 6)
	scan := bytes.Index(whole, []byte{0xff, 0xda})
	require.Positive(t, scan)
	for name, data := range map[string][]byte{
		"whole": whole, "cut": whole[:scan+60],
		"damaged": append(append([]byte{}, whole[:scan+40]...), "\xff\xee\x00\x00GPSPLACE"...),
	} {
		out, extension, ok := Unread(data)
		require.True(t, ok, name)
		assert.Equal(t, ".jpg", extension)
		for _, s := range secrets {
			assert.NotContains(t, string(out), s, name)
		}
		assert.Contains(t, string(out), string(data[scan:scan+40]), "%s: the pixels' data stay", name)
		again, _, ok := Unread(out)
		assert.True(t, ok)
		assert.Equal(t, out, again, "%s: nothing more goes the second time", name)
	}
	out, _, ok := Unread(whole)
	require.True(t, ok)
	p, err := photo.Decode(out, "x", photo.Limits{})
	require.NoError(t, err, "where it can be read after all, it still can")
	assert.Equal(t, 6, p.Orientation)
	_, _, ok = Unread(whole[:scan])
	assert.False(t, ok, "without pixels there is nothing to keep")
}

func TestUnreadPNGAndWebPHaveNoSecrets(t *testing.T) {
	var b bytes.Buffer
	require.NoError(t, png.Encode(&b, image.NewGray(image.Rect(0, 0, 30, 20))))
	text := insert(b.Bytes(), len(pngHead)+25, chunk("tEXt", []byte("Author\x00OWNERNAME")))
	text = insert(text, len(pngHead)+25, chunk("eXIf", []byte("MM GPSPLACE")))
	for _, data := range [][]byte{text, text[:len(text)-20]} {
		out, extension, ok := Unread(data)
		require.True(t, ok)
		assert.Equal(t, ".png", extension)
		assert.NotContains(t, string(out), "OWNERNAME")
		assert.NotContains(t, string(out), "GPSPLACE")
		assert.Contains(t, string(out), "IDAT")
	}
	part := func(kind, body string) string {
		size := binary.LittleEndian.AppendUint32(nil, uint32(len(body)))
		if len(body)%2 == 1 {
			body += "\x00"
		}
		return kind + string(size) + body
	}
	body := part("VP8X", "\x0c\x00\x00\x00123456") + part("VP8L", "pixels!") + part("EXIF", "GPSPLACE") +
		part("XMP ", "OWNERNAME")
	out, extension, ok := Unread([]byte("RIFF\xff\x00\x00\x00WEBP" + body))
	require.True(t, ok)
	assert.Equal(t, ".webp", extension)
	assert.Equal(t, "WEBP"+part("VP8X", "\x00\x00\x00\x00123456")+part("VP8L", "pixels!"), string(out[8:]))
	assert.Equal(t, uint32(len(out)-8), binary.LittleEndian.Uint32(out[4:]))
}

func TestWhatHasNoPartsIsNotKept(t *testing.T) {
	for _, data := range []string{"", "hello", "II*\x00GPSPLACE", "\x00\x00\x00\x18ftypheic GPSPLACE"} {
		_, _, ok := Unread([]byte(data))
		assert.False(t, ok, data)
	}
}

func FuzzUnread(f *testing.F) {
	f.Add([]byte("\xff\xd8\xff\xe1\x00\x08Exif\x00\x00\xff\xda\x00\x02x\xff\xd9"))
	f.Add([]byte(pngHead + "\x00\x00\x00\x01IDATx"))
	f.Add([]byte("RIFF\x00\x00\x00\x00WEBPVP8 \x02\x00\x00\x00xx"))
	f.Fuzz(func(t *testing.T, data []byte) {
		out, _, ok := Unread(data)
		if !ok {
			return
		}
		if len(out) > len(data)+200 {
			t.Fatalf("%d bytes became %d", len(data), len(out))
		}
		again, _, ok := Unread(out)
		if !ok || !bytes.Equal(out, again) {
			t.Fatalf("%q became %q, and that %q", data, out, again)
		}
	})
}
