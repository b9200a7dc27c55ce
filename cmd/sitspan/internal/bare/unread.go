package bare

import (
	"bytes"
	"encoding/binary"

	"sitspan/imprint/photo"
)

// Unread takes out of a file that no reader can make a picture of what can be taken out without reading it:
// by the segments of a JPEG and the chunks of a PNG or a WebP. What follows a damage that hides where the
// next one begins goes, too. False where there is no picture's data to keep, or where the format has no such
// parts (HEIC, TIFF): nobody can say then what the rest holds.
func Unread(data []byte) (out []byte, extension string, ok bool) {
	switch {
	case bytes.HasPrefix(data, []byte{0xff, 0xd8}):
		out, ok = unreadJPEG(data)
		return out, ".jpg", ok
	case bytes.HasPrefix(data, []byte(pngHead)):
		out, ok = unreadPNG(data)
		return out, ".png", ok
	case len(data) >= 12 && string(data[:4]) == "RIFF" && string(data[8:12]) == "WEBP":
		out, ok = unreadWebP(data)
		return out, ".webp", ok
	}
	return nil, "", false
}

// unreadJPEG keeps what fromJPEG keeps, as far as the segments go; true where a scan is among it.
func unreadJPEG(data []byte) (out []byte, scan bool) {
	t := tags{}
	var kept []byte
	for at := 2; ; {
		marker, body, next, err := segment(data, at)
		if err != nil {
			break
		}
		if marker == 0xe1 && bytes.HasPrefix(body, []byte("Exif\x00\x00")) && len(t) == 0 {
			t = readTags(body[6:])
		}
		if needed(marker, body) {
			kept = append(kept, data[at:next]...)
		}
		at = next
		if marker == 0xda {
			end := scanEnd(data, at)
			kept, at, scan = append(kept, data[at:end]...), end, true
		}
		if marker == 0xd9 {
			break
		}
	}
	return append(append([]byte{0xff, 0xd8}, exifSegment(t.of(&photo.Photo{}))...), kept...), scan
}

// unreadPNG keeps the chunks that fromPNG keeps; of a file that ends within its pixels what there is of them.
func unreadPNG(data []byte) (out []byte, pixels bool) {
	out = []byte(pngHead)
	for rest := data[len(pngHead):]; len(rest) >= 8; {
		kind, size := string(rest[4:8]), uint64(binary.BigEndian.Uint32(rest))
		whole := size+12 <= uint64(len(rest))
		if !whole && kind != "IDAT" {
			break
		}
		end := min(size+12, uint64(len(rest)))
		if keptChunks[kind] {
			out, pixels = append(out, rest[:end]...), pixels || kind == "IDAT"
		}
		rest = rest[end:]
		if kind == "IEND" {
			break
		}
	}
	return out, pixels
}

// The chunks of a WebP that hold pixels and colours, and the flags of its header that announce EXIF and XMP
// (RFC 9649, 2.7).
var keptWebP = map[string]bool{"VP8 ": true, "VP8L": true, "VP8X": true, "ALPH": true, "ICCP": true}

const webpPrivate = 0x08 | 0x04

// unreadWebP keeps the chunks above.
func unreadWebP(data []byte) (out []byte, pixels bool) {
	out = append([]byte{}, data[:12]...)
	for rest := data[12:]; len(rest) >= 8; {
		kind, size := string(rest[:4]), uint64(binary.LittleEndian.Uint32(rest[4:]))
		end := min(8+size+size%2, uint64(len(rest)))
		if keptWebP[kind] {
			at := len(out)
			out = append(out, rest[:end]...)
			if kind == "VP8X" && len(out) > at+8 {
				out[at+8] &^= webpPrivate
			}
			pixels = pixels || kind == "VP8 " || kind == "VP8L"
		}
		rest = rest[end:]
	}
	binary.LittleEndian.PutUint32(out[4:], uint32(len(out)-8))
	return out, pixels
}
