package bare

import (
	"encoding/binary"
	"math"

	"sitspan/imprint/photo"
)

// The tags that stay (EXIF 2.32 and TIFF 6.0), and the pointer to EXIF's own
// directory.
const (
	tagMake        = 0x010f
	tagOrientation = 0x0112
	tagXResolution = 0x011a
	tagYResolution = 0x011b
	tagUnit        = 0x0128
	tagExif        = 0x8769
	tagFocal       = 0x920a
	tagPixelX      = 0xa002
	tagPixelY      = 0xa003
	tagZoom        = 0xa404
	tagFocal35     = 0xa405
)

// The types of a tag's value.
const (
	typeASCII    = 2
	typeShort    = 3
	typeLong     = 4
	typeRational = 5
)

// noMaker stands for a maker's name where that is the only sign that a camera
// took the picture.
const noMaker = "camera"

// tags are the numbers that stay; a tag that is absent is not known.
type tags map[uint16]float64

// readTags reads the tags that stay from an EXIF block (a TIFF stream). Damage
// costs tags, never more.
func readTags(block []byte) tags {
	t := tags{}
	if len(block) < 8 {
		return t
	}
	var order binary.ByteOrder = binary.LittleEndian
	if block[0] == 'M' {
		order = binary.BigEndian
	}
	t.readDirectory(block, order, order.Uint32(block[4:]), true)
	return t
}

func (t tags) readDirectory(block []byte, order binary.ByteOrder, at uint32, first bool) {
	if uint64(at)+2 > uint64(len(block)) {
		return
	}
	n := int(order.Uint16(block[at:]))
	for i := range n {
		entry := uint64(at) + 2 + 12*uint64(i)
		if entry+12 > uint64(len(block)) {
			return
		}
		e := block[entry : entry+12]
		tag := order.Uint16(e)
		v, ok := valueOf(block, order, e)
		switch {
		case first && tag == tagExif && ok:
			t.readDirectory(block, order, uint32(v), false)
		case ok && stays(tag, first):
			t[tag] = v
		}
	}
}

// stays says whether a tag stays, in the first directory or in EXIF's own.
func stays(tag uint16, first bool) bool {
	switch tag {
	case tagOrientation, tagXResolution, tagYResolution, tagUnit:
		return first
	case tagFocal, tagPixelX, tagPixelY, tagZoom, tagFocal35:
		return !first
	}
	return false
}

// valueOf is the first number of an entry.
func valueOf(block []byte, order binary.ByteOrder, e []byte) (float64, bool) {
	switch order.Uint16(e[2:]) {
	case typeShort:
		return float64(order.Uint16(e[8:])), true
	case typeLong:
		return float64(order.Uint32(e[8:])), true
	case typeRational:
		at := uint64(order.Uint32(e[8:]))
		if at+8 > uint64(len(block)) {
			return 0, false
		}
		q := float64(order.Uint32(block[at+4:]))
		return float64(order.Uint32(block[at:])) / q, q != 0
	}
	return 0, false
}

// of completes the tags by what the decoded photo is known to be.
func (t tags) of(p *photo.Photo) []byte {
	block := t.write(p.HasCamera && t[tagFocal] == 0 && t[tagFocal35] == 0)
	return append([]byte("Exif\x00\x00"), block...)
}

// entry is one tag to write.
type entry struct {
	tag, kind uint16
	value     float64
	text      string
}

// write makes an EXIF block of the tags: big endian, the first directory and
// EXIF's own.
func (t tags) write(camera bool) []byte {
	var first, own []entry
	if camera {
		first = append(first, entry{tag: tagMake, kind: typeASCII, text: noMaker + "\x00"})
	}
	add := func(to *[]entry, tag, kind uint16) {
		if v, known := t[tag]; known {
			*to = append(*to, entry{tag: tag, kind: kind, value: v})
		}
	}
	add(&first, tagOrientation, typeShort)
	add(&first, tagXResolution, typeRational)
	add(&first, tagYResolution, typeRational)
	add(&first, tagUnit, typeShort)
	add(&own, tagFocal, typeRational)
	add(&own, tagPixelX, typeLong)
	add(&own, tagPixelY, typeLong)
	add(&own, tagZoom, typeRational)
	add(&own, tagFocal35, typeShort)
	out := []byte("MM\x00*\x00\x00\x00\x08")
	if len(own) > 0 {
		first = append(first, entry{tag: tagExif, kind: typeLong, value: float64(8 + directorySize(first) + 12)})
	}
	out = appendDirectory(out, first)
	if len(own) > 0 {
		out = appendDirectory(out, own)
	}
	return out
}

// directorySize is a directory's length in bytes, its values behind it.
func directorySize(entries []entry) int {
	size := 2 + 12*len(entries) + 4
	for _, e := range entries {
		switch e.kind {
		case typeRational:
			size += 8
		case typeASCII:
			size += len(e.text) + len(e.text)%2
		}
	}
	return size
}

func appendDirectory(out []byte, entries []entry) []byte {
	at := uint32(len(out) + 2 + 12*len(entries) + 4)
	out = binary.BigEndian.AppendUint16(out, uint16(len(entries)))
	var behind []byte
	for _, e := range entries {
		out = binary.BigEndian.AppendUint16(out, e.tag)
		out = binary.BigEndian.AppendUint16(out, e.kind)
		here := at + uint32(len(behind))
		switch e.kind {
		case typeShort:
			out = binary.BigEndian.AppendUint32(out, 1)
			out = binary.BigEndian.AppendUint16(out, uint16(e.value))
			out = append(out, 0, 0)
		case typeLong:
			out = binary.BigEndian.AppendUint32(out, 1)
			out = binary.BigEndian.AppendUint32(out, uint32(e.value))
		case typeRational:
			const denominator = 1_000_000
			out = binary.BigEndian.AppendUint32(out, 1)
			out = binary.BigEndian.AppendUint32(out, here)
			n, d := math.Round(e.value*denominator), uint32(denominator)
			if n > math.MaxUint32 {
				n, d = math.Round(e.value), 1
			}
			behind = binary.BigEndian.AppendUint32(behind, uint32(min(n, math.MaxUint32)))
			behind = binary.BigEndian.AppendUint32(behind, d)
		case typeASCII:
			out = binary.BigEndian.AppendUint32(out, uint32(len(e.text)))
			out = binary.BigEndian.AppendUint32(out, here)
			behind = append(behind, e.text...)
			if len(e.text)%2 == 1 {
				behind = append(behind, 0)
			}
		}
	}
	out = append(out, 0, 0, 0, 0) // no further directory
	return append(out, behind...)
}
