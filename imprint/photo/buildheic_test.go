package photo

import (
	"bytes"
	"encoding/binary"
	"os"
	"testing"

	"github.com/stretchr/testify/require"
)

// heicFile describes a HEIC file laid out as phones do: an optional grid of
// tiles, turned by properties, with an EXIF block and a thumbnail.
type heicFile struct {
	brand string // major; default heic
	tiles []string
	w, h  uint32 // of the primary picture
	rot   int    // quarter turns anticlockwise, 0 writes none
	mirr  int    // imir axis, -1 writes none
	nclx  int    // full_range_flag, -1 writes none
	exif  []byte

	turnedTiles bool // the picture's turn is each tile's, too
}

// phoneHEIC is the sample as a phone's grid of 2 x 2 tiles of 128 px, of which
// 240 x 160 show.
func phoneHEIC(rot, mirror int, exif []byte) heicFile {
	return heicFile{tiles: []string{"tile1.heic", "tile2.heic", "tile3.heic", "tile4.heic"},
		w: 240, h: 160, rot: rot, mirr: mirror, nclx: -1, exif: exif}
}

// singleHEIC is a picture of testdata in a file without a grid.
func singleHEIC(name string, nclx int) heicFile {
	return heicFile{tiles: []string{name}, w: 240, h: 160, mirr: -1, nclx: nclx}
}

func box(kind string, parts ...[]byte) []byte {
	body := bytes.Join(parts, nil)
	return append(append(binary.BigEndian.AppendUint32(nil, uint32(8+len(body))), kind...), body...)
}

func words(values ...int) (out []byte) {
	for _, v := range values {
		out = binary.BigEndian.AppendUint16(out, uint16(v))
	}
	return out
}

func long(v uint32) []byte { return binary.BigEndian.AppendUint32(nil, v) }

// coded takes the decoder configuration and the coded picture out of a file
// that heif-enc wrote.
func coded(t testing.TB, name string) (hvcC, data []byte) {
	file, err := os.ReadFile("testdata/" + name)
	require.NoError(t, err)
	eachBox(file, func(kind string, body []byte) {
		switch kind {
		case "mdat":
			data = body
		case "meta":
			from := bytes.Index(body, []byte("hvcC")) - 4
			hvcC = body[from : from+int(binary.BigEndian.Uint32(body[from:]))]
		}
	})
	require.NotEmpty(t, hvcC)
	require.NotEmpty(t, data)
	return hvcC, data
}

// item is an item of the file under construction.
type item struct {
	id         int
	kind       string
	data       []byte
	properties []byte // indices into ipco from 1, all essential
}

// build writes the file: ISO/IEC 14496-12 and 23008-12, as heif-info shows a
// phone's.
func (f heicFile) build(t testing.TB) []byte {
	items, ipco, references := f.items(t)
	meta := metaBox(items, ipco, references, 0)
	brand := f.brand
	if brand == "" {
		brand = "heic"
	}
	ftyp := box("ftyp", []byte(brand), long(0), []byte("mif1heicmiaf"))
	meta = metaBox(items, ipco, references, len(ftyp)+len(meta)+8)
	var media [][]byte
	for _, i := range items {
		media = append(media, i.data)
	}
	return bytes.Join([][]byte{ftyp, meta, box("mdat", media...)}, nil)
}

const primaryID, exifID, thumbID = 50, 51, 52

func (f heicFile) items(t testing.TB) (items []item, ipco, references []byte) {
	properties := 0
	add := func(b []byte) byte { ipco = append(ipco, b...); properties++; return byte(properties) }
	turns := []byte{add(box("ispe", long(0), long(f.w), long(f.h)))}
	if f.rot > 0 {
		turns = append(turns, add(box("irot", []byte{byte(f.rot)})))
	}
	if f.mirr >= 0 {
		turns = append(turns, add(box("imir", []byte{byte(f.mirr)})))
	}
	if f.nclx >= 0 {
		turns = append(turns, add(box("colr", []byte("nclx"), words(1, 13, 6), []byte{byte(f.nclx << 7)})))
	}
	if len(f.tiles) == 1 {
		hvcC, data := coded(t, f.tiles[0])
		items = []item{{primaryID, "hvc1", data, append(turns, add(hvcC))}}
	} else {
		tile := add(box("ispe", long(0), long(128), long(128)))
		grid := item{primaryID, "grid", append([]byte{0, 0, 1, 1}, words(int(f.w), int(f.h))...), turns}
		for i, name := range f.tiles {
			hvcC, data := coded(t, name)
			own := []byte{tile, add(hvcC)}
			if f.turnedTiles {
				own = append(own, turns[1:]...)
			}
			items = append(items, item{i + 1, "hvc1", data, own})
		}
		thumb := items[0]
		thumb.id = thumbID
		items = append(items, thumb, grid)
		references = append(box("dimg", words(primaryID, 4, 1, 2, 3, 4)),
			box("thmb", words(thumbID, 1, primaryID))...)
	}
	if f.exif != nil {
		items = append(items, item{exifID, "Exif", append(long(6), append([]byte("Exif\x00\x00"), f.exif...)...),
			nil})
		references = append(references, box("cdsc", words(exifID, 1, primaryID))...)
	}
	return items, ipco, references
}

func metaBox(items []item, ipco, references []byte, offset int) []byte {
	var infe, ipma, iloc []byte
	associated := 0
	for _, i := range items {
		infe = append(infe, box("infe", []byte{2, 0, 0, 0}, words(i.id, 0), []byte(i.kind), []byte{0})...)
		iloc = append(iloc, words(i.id, 0, 1)...)
		iloc = append(append(iloc, long(uint32(offset))...), long(uint32(len(i.data)))...)
		offset += len(i.data)
		if len(i.properties) > 0 {
			associated++
			ipma = append(append(ipma, words(i.id)...), byte(len(i.properties)))
			for _, p := range i.properties {
				ipma = append(ipma, p|0x80)
			}
		}
	}
	parts := [][]byte{long(0),
		box("hdlr", long(0), long(0), []byte("pict"), make([]byte, 13)),
		box("pitm", long(0), words(primaryID)),
		box("iloc", long(0), []byte{0x44, 0x00}, words(len(items)), iloc),
		box("iinf", long(0), words(len(items)), infe),
		box("iprp", box("ipco", ipco), box("ipma", long(0), long(uint32(associated)), ipma))}
	if len(references) > 0 {
		parts = append(parts, box("iref", long(0), references))
	}
	return box("meta", parts...)
}
