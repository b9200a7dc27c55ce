package photo

import (
	"bytes"
	"encoding/binary"
	"hash/crc32"
	"image"
	"image/color"
	"image/jpeg"
	"image/png"
	"slices"
	"testing"

	"github.com/stretchr/testify/require"
)

// This file builds the files that the tests read.

// blocks is a picture of flat square blocks, [row][column] of grey levels.
// Levels lie 10 apart, so a reading within 5 names its block without doubt:
// that, and no coder's quality, is the tolerance of every test on it.
type blocks [][]byte

const (
	levelStep  = 10
	blockWidth = 40 // px, in the files under testdata
)

// sample is the picture in testdata: 6 x 4 blocks, all different.
func sample() blocks {
	b := make(blocks, 4)
	for y := range b {
		for x := range 6 {
			b[y] = append(b[y], byte(8+levelStep*(6*y+x)))
		}
	}
	return b
}

// sides says which side of the upright scene the stored row 0 and column 0
// show, by orientation. Source: TIFF 6.0, tag 274 Orientation, and EXIF 2.32,
// the same tag (TIFF as a public copy of the specification words it).
var sides = [9][2]string{
	1: {"top", "left"}, 2: {"top", "right"}, 3: {"bottom", "right"}, 4: {"bottom", "left"},
	5: {"left", "top"}, 6: {"right", "top"}, 7: {"right", "bottom"}, 8: {"left", "bottom"},
}

// seenAt is where the stored row and column are in an upright picture of w x h.
func seenAt(orientation, row, column, w, h int) (x, y int) {
	for i, side := range sides[orientation] {
		n := [2]int{row, column}[i]
		switch side {
		case "top":
			y = n
		case "bottom":
			y = h - 1 - n
		case "left":
			x = n
		case "right":
			x = w - 1 - n
		}
	}
	return x, y
}

// stored is the upright picture b as a file with this orientation holds it.
func (b blocks) stored(orientation int) blocks {
	h, w := len(b), len(b[0])
	rows, columns := h, w
	if orientation >= 5 {
		rows, columns = w, h
	}
	out := make(blocks, rows)
	for r := range out {
		for c := range columns {
			x, y := seenAt(orientation, r, c, w, h)
			out[r] = append(out[r], b[y][x])
		}
	}
	return out
}

// upright is the inverse of stored.
func (b blocks) upright(orientation int) blocks {
	h, w := len(b), len(b[0])
	if orientation >= 5 {
		w, h = h, w
	}
	out := make(blocks, h)
	for y := range out {
		out[y] = make([]byte, w)
	}
	for r, line := range b {
		for c, v := range line {
			x, y := seenAt(orientation, r, c, w, h)
			out[y][x] = v
		}
	}
	return out
}

func (b blocks) grey(side int) *image.Gray {
	m := image.NewGray(image.Rect(0, 0, side*len(b[0]), side*len(b)))
	for i := range m.Pix {
		m.Pix[i] = b[i/m.Stride/side][i%m.Stride/side]
	}
	return m
}

// requireBlocks checks a photo's size, its luma and its colour, whole and
// reduced, at the middle of each block.
func requireBlocks(t *testing.T, want blocks, p *Photo, side int) {
	t.Helper()
	rows, columns := len(want), len(want[0])
	require.Equal(t, [2]int{side * columns, side * rows}, [2]int{p.Width, p.Height})
	grey := p.Grey()
	require.Equal(t, p.Bounds(), grey.Rect)
	require.Equal(t, p.Width, grey.Stride)
	whole, half := p.Colour(1<<20), p.Colour(max(p.Width, p.Height)/2)
	require.Equal(t, p.Bounds(), whole.Rect)
	require.Equal(t, image.Rect(0, 0, p.Width/2, p.Height/2), half.Rect)
	for y, line := range want {
		for x, level := range line {
			cx, cy := side*x+side/2, side*y+side/2
			require.InDelta(t, level, grey.GrayAt(cx, cy).Y, levelStep/2, "grey, block %d, %d", x, y)
			spot, ok := p.Spot(float64(cx), float64(cy), float64(side)/4)
			require.True(t, ok)
			same := whole.NRGBAAt(cx, cy)
			for c, v := range [3]uint8{same.R, same.G, same.B} {
				require.InDelta(t, v, spot[c], levelStep/4, "spot, block %d, %d", x, y)
			}
			for _, c := range []color.NRGBA{whole.NRGBAAt(cx, cy), half.NRGBAAt(cx/2, cy/2)} {
				require.InDelta(t, level, c.G, levelStep/2, "colour, block %d, %d", x, y)
				require.EqualValues(t, 255, c.A)
			}
		}
	}
}

// tag is one EXIF or TIFF entry: a short, a long, a rational or a text.
type tag struct {
	id    uint16
	value any // uint16, uint32, [2]uint32 or string
}

// tiffBlock writes a TIFF stream with IFD0, an EXIF directory and, if place is
// true, a GPS directory. extra bytes follow the header, at offset 8.
func tiffBlock(ifd0, exifIFD []tag, place bool, extra []byte) []byte {
	out := append([]byte("MM\x00*\x00\x00\x00\x00"), extra...)
	if len(exifIFD) > 0 {
		ifd0 = append(ifd0, tag{0x8769, appendIFD(&out, exifIFD)})
	}
	if place {
		ifd0 = append(ifd0, tag{0x8825, appendIFD(&out, []tag{{1, "N"}, {3, "E"}})})
	}
	start := appendIFD(&out, ifd0)
	binary.BigEndian.PutUint32(out[4:], start)
	return out
}

func appendIFD(out *[]byte, tags []tag) (start uint32) {
	be := binary.BigEndian
	var entries []byte
	slices.SortFunc(tags, func(a, b tag) int { return int(a.id) - int(b.id) }) // TIFF 6.0: ascending
	for _, t := range tags {
		entries = be.AppendUint16(entries, t.id)
		switch v := t.value.(type) {
		case uint16:
			entries = be.AppendUint16(append(entries, 0, 3, 0, 0, 0, 1), v)
			entries = append(entries, 0, 0)
		case uint32:
			entries = be.AppendUint32(append(entries, 0, 4, 0, 0, 0, 1), v)
		case [2]uint32:
			entries = be.AppendUint32(append(entries, 0, 5, 0, 0, 0, 1), uint32(len(*out)))
			*out = be.AppendUint32(be.AppendUint32(*out, v[0]), v[1])
		case string:
			text := append([]byte(v), 0)
			entries = be.AppendUint32(append(entries, 0, 2), uint32(len(text)))
			if len(text) <= 4 {
				entries = append(entries, append(text, make([]byte, 4-len(text))...)...)
				continue
			}
			entries = be.AppendUint32(entries, uint32(len(*out)))
			*out = append(*out, text...)
		}
	}
	start = uint32(len(*out))
	*out = be.AppendUint16(*out, uint16(len(tags)))
	*out = append(*out, entries...)
	*out = append(*out, 0, 0, 0, 0)
	return start
}

// cameraBlock is what a phone writes, place included.
func cameraBlock(orientation int, w, h uint32) []byte {
	return tiffBlock(
		[]tag{{0x010f, "Field"}, {0x0110, "Pocket camera"}, {0x0112, uint16(orientation)},
			{0x011a, [2]uint32{72, 1}}, {0x011b, [2]uint32{72, 1}}, {0x0128, uint16(2)}},
		[]tag{{0x9003, "2026:05:14 10:24:00"}, {0x9011, "+02:00"}, {0x920a, [2]uint32{68, 10}},
			{0xa002, w}, {0xa003, h}, {0xa404, [2]uint32{1, 1}}, {0xa405, uint16(26)}},
		true, nil)
}

func orientationBlock(orientation int) []byte {
	return tiffBlock([]tag{{0x0112, uint16(orientation)}}, nil, false, nil)
}

// jpegFile encodes a picture and puts segments behind the start marker.
func jpegFile(t testing.TB, m image.Image, segments ...[]byte) []byte {
	var b bytes.Buffer
	require.NoError(t, jpeg.Encode(&b, m, &jpeg.Options{Quality: 100}))
	out := []byte{0xff, 0xd8}
	for _, s := range segments {
		out = append(out, s...)
	}
	return append(out, b.Bytes()[2:]...)
}

func segment(marker byte, body []byte) []byte {
	return append(binary.BigEndian.AppendUint16([]byte{0xff, marker}, uint16(len(body)+2)), body...)
}

func exifSegment(block []byte) []byte {
	return segment(0xe1, append([]byte("Exif\x00\x00"), block...))
}

func jfifSegment(unit byte, x, y uint16) []byte {
	body := append([]byte("JFIF\x00\x01\x02"), unit)
	body = binary.BigEndian.AppendUint16(binary.BigEndian.AppendUint16(body, x), y)
	return segment(0xe0, append(body, 0, 0))
}

// pngFile encodes a picture and puts chunks behind the header.
func pngFile(t testing.TB, m image.Image, chunks ...[]byte) []byte {
	var b bytes.Buffer
	require.NoError(t, png.Encode(&b, m))
	const header = 8 + 25 // signature and IHDR
	out := bytes.Clone(b.Bytes()[:header])
	for _, c := range chunks {
		out = append(out, c...)
	}
	return append(out, b.Bytes()[header:]...)
}

func chunk(kind string, body []byte) []byte {
	out := binary.BigEndian.AppendUint32(nil, uint32(len(body)))
	out = append(append(out, kind...), body...)
	return binary.BigEndian.AppendUint32(out, crc32.ChecksumIEEE(out[4:]))
}

func physChunk(x, y uint32, unit byte) []byte {
	body := binary.BigEndian.AppendUint32(binary.BigEndian.AppendUint32(nil, x), y)
	return chunk("pHYs", append(body, unit))
}

// tiffFile is an uncompressed grey TIFF.
func tiffFile(m *image.Gray, tags ...tag) []byte {
	w, h := uint32(m.Rect.Dx()), uint32(m.Rect.Dy())
	return tiffBlock(append([]tag{{0x0100, w}, {0x0101, h}, {0x0102, uint16(8)}, {0x0103, uint16(1)},
		{0x0106, uint16(1)}, {0x0111, uint32(8)}, {0x0115, uint16(1)}, {0x0116, h}, {0x0117, w * h}},
		tags...), nil, false, m.Pix)
}

// webpFile puts an EXIF block into a simple WebP file of w x h px.
func webpFile(simple []byte, w, h int, block []byte) []byte {
	le := binary.LittleEndian
	piece := func(kind string, body []byte) []byte {
		out := append(le.AppendUint32([]byte(kind), uint32(len(body))), body...)
		return append(out, make([]byte, len(body)%2)...)
	}
	const hasEXIF = 1 << 3
	body := append([]byte("WEBP"), piece("VP8X", []byte{hasEXIF, 0, 0, 0,
		byte(w - 1), byte((w - 1) >> 8), 0, byte(h - 1), byte((h - 1) >> 8), 0})...)
	body = append(body, simple[12:]...)
	body = append(body, piece("EXIF", block)...)
	return piece("RIFF", body)
}
