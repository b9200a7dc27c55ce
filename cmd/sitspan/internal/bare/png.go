package bare

import (
	"bytes"
	"encoding/binary"
	"hash/crc32"
	"image/png"

	"sitspan/cmd/sitspan/internal/words"
	"sitspan/imprint/photo"
)

var errPNG = words.Fault("error.bare.png", nil)

// keptChunks are the chunks that pixels, colours and resolution are read from
// (PNG specification, clause 11).
var keptChunks = map[string]bool{
	"IHDR": true, "PLTE": true, "IDAT": true, "IEND": true, "tRNS": true,
	"gAMA": true, "cHRM": true, "sRGB": true, "iCCP": true, "sBIT": true, "pHYs": true,
}

const pngHead = "\x89PNG\r\n\x1a\n"

// fromPNG keeps the chunks above and puts its own EXIF block behind the first.
func fromPNG(data []byte, p *photo.Photo) ([]byte, error) {
	out := []byte(pngHead)
	var t tags
	rest := data[len(pngHead):]
	place := 0
	for {
		if len(rest) < 12 {
			return nil, errPNG
		}
		size := uint64(binary.BigEndian.Uint32(rest))
		if size > uint64(len(rest)-12) {
			return nil, errPNG
		}
		kind := string(rest[4:8])
		if kind == "eXIf" && t == nil {
			t = readTags(rest[8 : 8+size])
		}
		if keptChunks[kind] {
			out = append(out, rest[:12+size]...)
		}
		if kind == "IHDR" {
			place = len(out)
		}
		rest = rest[12+size:]
		if kind == "IEND" {
			break
		}
	}
	if t == nil && !p.HasCamera {
		return out, nil
	}
	if place == 0 {
		return nil, errPNG
	}
	return insert(out, place, chunk("eXIf", t.of(p)[6:])), nil
}

func insert(data []byte, at int, more []byte) []byte {
	out := append([]byte{}, data[:at]...)
	return append(append(out, more...), data[at:]...)
}

func chunk(kind string, body []byte) []byte {
	c := binary.BigEndian.AppendUint32(nil, uint32(len(body)))
	c = append(append(c, kind...), body...)
	return binary.BigEndian.AppendUint32(c, crc32.ChecksumIEEE(c[4:]))
}

// encodePNG writes the upright picture anew, lossless but for bits beyond eight.
func encodePNG(p *photo.Photo) ([]byte, error) {
	var b bytes.Buffer
	if err := png.Encode(&b, p.Colour(max(p.Width, p.Height))); err != nil {
		return nil, err
	}
	const header = len(pngHead) + 25
	return insert(b.Bytes(), header, chunk("eXIf", tagsOf(p).of(p)[6:])), nil
}
