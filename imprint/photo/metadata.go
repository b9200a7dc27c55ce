package photo

import (
	"bytes"
	"encoding/binary"

	"github.com/bep/imagemeta"
)

// metadata is what a file says about its picture, in the stored axes.
type metadata struct {
	exif    exif
	density []statement // outside EXIF
	heif    heifHeader
}

// orientation is the EXIF code of the turn that the file asks for: a HEIC by its container alone.
func (m metadata) orientation(format Format) int {
	if format == HEIC {
		return m.heif.orientation
	}
	return m.exif.orientation
}

// readMetadata never fails: what cannot be read is unknown.
func readMetadata(format Format, data []byte) metadata {
	var m metadata
	var block []byte
	switch format {
	case JPEG:
		block = m.walkJPEG(data)
	case PNG:
		block = m.walkPNG(data)
	case WebP:
		block = walkWebP(data)
	case TIFF:
		block = data
	case HEIC:
		m.heif = readHEIF(data)
		m.exif = readEXIF(data, imagemeta.HEIF)
		return m
	}
	m.exif = readEXIF(block, imagemeta.TIFF)
	if format != TIFF {
		m.exif.raw = false // the tag describes another file's layout
	}
	return m
}

// walkJPEG goes through the segments before the first scan, takes JFIF's
// density and returns the EXIF block: ITU-T T.81 B.1.1 for the segments,
// T.871 10.1 for JFIF's APP0 (clauses from memory, the recommendations settle them).
func (m *metadata) walkJPEG(data []byte) (block []byte) {
	rest := data[2:]
	for len(rest) >= 4 && rest[0] == 0xff {
		marker := rest[1]
		if marker == 0xff { // a fill byte
			rest = rest[1:]
			continue
		}
		size := int(binary.BigEndian.Uint16(rest[2:]))
		if marker == 0xda || size < 2 || len(rest) < 2+size {
			break
		}
		body := rest[4 : 2+size]
		rest = rest[2+size:]
		switch {
		case marker == 0xe0 && len(body) >= 12 && string(body[:5]) == "JFIF\x00":
			m.density = append(m.density, statement{
				x: float64(binary.BigEndian.Uint16(body[8:])), y: float64(binary.BigEndian.Uint16(body[10:])),
				unit: jfifUnit(body[7]), source: "JFIF"})
		case marker == 0xe1 && block == nil && bytes.HasPrefix(body, []byte("Exif\x00")) && len(body) > 6:
			block = body[6:]
		}
	}
	return block
}

// walkPNG goes through the chunks before the picture's data, takes pHYs and
// returns the EXIF block: PNG specification, 5.3 and 11.3.5.3.
func (m *metadata) walkPNG(data []byte) (block []byte) {
	rest := data[8:]
	for len(rest) >= 12 {
		size := uint64(binary.BigEndian.Uint32(rest))
		kind := string(rest[4:8])
		if size > uint64(len(rest)-12) {
			break
		}
		body := rest[8 : 8+size]
		rest = rest[12+size:]
		switch {
		case kind == "pHYs" && size == 9 && len(m.density) == 0:
			m.density = append(m.density, statement{
				x: float64(binary.BigEndian.Uint32(body)), y: float64(binary.BigEndian.Uint32(body[4:])),
				unit: pngUnit(body[8]), source: "PNG pHYs"})
		case kind == "eXIf" && block == nil:
			block = body
		}
	}
	return block
}

// walkWebP returns the EXIF block of a WebP container. imagemeta's own walk
// forgets that a chunk of odd length is padded, and loses what follows it.
func walkWebP(data []byte) []byte {
	rest := data[12:]
	for len(rest) >= 8 {
		size := uint64(binary.LittleEndian.Uint32(rest[4:]))
		if size > uint64(len(rest)-8) {
			return nil
		}
		if string(rest[:4]) == "EXIF" {
			return bytes.TrimPrefix(rest[8:8+size], []byte("Exif\x00\x00"))
		}
		rest = rest[min(8+size+size%2, uint64(len(rest))):]
	}
	return nil
}
