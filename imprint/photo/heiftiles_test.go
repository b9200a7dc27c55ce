package photo

import (
	"bytes"
	"encoding/binary"
	"fmt"
	"image"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// units are the parameter sets and the picture of a file that heif-enc wrote, as a stream has them.
func units(t testing.TB, name string) (out []byte) {
	hvcC, picture := coded(t, name)
	rest := hvcC[8+23:]
	for range 3 { // VPS, SPS, PPS: heif-enc writes an array of one unit for each
		size := int(binary.BigEndian.Uint16(rest[3:]))
		out = append(append(out, 0, 0), rest[3:5+size]...)
		rest = rest[5+size:]
	}
	require.Empty(t, rest)
	return append(append(out, picture...), 0, 0, 0, 0)
}

func TestTilesAreFound(t *testing.T) {
	f := phoneHEIC(3, -1, cameraBlock(6, 240, 160))
	c, ok := codedHEIC(f.build(t))
	require.True(t, ok)
	var want []byte
	for _, name := range f.tiles {
		want = append(want, units(t, name)...)
	}
	assert.Equal(t, Coded{240, 160, 128, 128, want}, c)

	c, ok = codedHEIC(singleHEIC("single.heic", 1).build(t))
	require.True(t, ok)
	assert.Equal(t, Coded{240, 160, 240, 160, units(t, "single.heic")}, c)
}

// Whatever is unusual or wrong is left to a decoder of whole files: no tiles are handed over.
func TestOddHEICsHandNoTilesOver(t *testing.T) {
	put := func(word string, at int, values ...byte) func([]byte) []byte {
		return func(file []byte) []byte {
			from := bytes.Index(file, []byte(word))
			require.Positive(t, from, word)
			copy(file[from+at:], values)
			return file
		}
	}
	for name, spoil := range map[string]func([]byte) []byte{
		"a clean aperture":                put("irot", 0, []byte("clap")...),
		"an unknown turn":                 put("irot", 0, []byte("turn")...),
		"no list of tiles":                put("dimg", 0, []byte("dimx")...),
		"too few tiles":                   put("dimg", 7, 3),
		"a tile that is no item":          put("dimg", 9, 99),
		"a tile of another codec":         put("hvc1", 0, []byte("av01")...),
		"no configuration":                put("hvcC", 0, []byte("hvcX")...),
		"lengths of two bytes":            put("hvcC", 4+21, 1),
		"more parameter sets than are":    put("hvcC", 4+22, 9),
		"another kind of primary picture": put("grid", 0, []byte("iden")...),
		"content elsewhere":               put("iloc", 4+4+2+2+3, 1),
		"content in pieces, their list cut": func(file []byte) []byte {
			end := bytes.Index(file, []byte("iinf")) - 4 // of iloc, whose last item is the grid
			require.Equal(t, []byte{0, primaryID, 0, 0, 0, 1}, file[end-14:end-8])
			file[end-9] = 2
			return file
		},
		"content beyond the file":      put("iloc", 4+4+2+2+6, 0x7f),
		"content of no length":         put("iloc", 4+4+2+2+10, 0, 0, 0, 0),
		"content longer than the file": put("iloc", 4+4+2+2+10, 0xff),
		"a unit longer than its tile":  put("mdat", 4, 0x7f),
		"a unit of no length": func(file []byte) []byte {
			return put("iloc", 4+4+2+2+10, 0, 0, 0, 4)(put("mdat", 4, 0, 0, 0, 0)(file))
		},
		"cut":     func(file []byte) []byte { return file[:len(file)*2/3] },
		"nothing": func([]byte) []byte { return nil },
	} {
		t.Run(name, func(t *testing.T) {
			c, ok := codedHEIC(spoil(phoneHEIC(3, -1, nil).build(t)))
			assert.False(t, ok, c)
		})
	}
	f := phoneHEIC(3, -1, nil)
	f.turnedTiles = true
	_, ok := codedHEIC(f.build(t))
	assert.False(t, ok, "tiles that are turned")
	f = singleHEIC("single.heic", -1)
	f.w = 0
	_, ok = codedHEIC(f.build(t))
	assert.False(t, ok, "no width")
}

// A decoder of tiles gives them as they are stored; the photo is turned as its container says, and EXIF not
// asked. Here WebAssembly decodes the picture before its turn in such a decoder's place.
func TestTilesAreTurnedOnce(t *testing.T) {
	stored, err := decodeHEIC(phoneHEIC(0, -1, nil).build(t), false)
	require.NoError(t, err)
	UseNative(Native{HEIC: func(Coded) image.Image { return stored }})
	defer UseNative(Native{})
	for rot := range 4 {
		for mirror := -1; mirror <= 1; mirror++ {
			t.Run(fmt.Sprintf("irot %d imir %d", rot, mirror), func(t *testing.T) {
				p, err := Decode(phoneHEIC(rot, mirror, cameraBlock(6, 240, 160)).build(t), "a.heic", Limits{})
				require.NoError(t, err)
				requireBlocks(t, sample().contained(rot, mirror), p, blockWidth)
			})
		}
	}
}

// FuzzTiles: whatever the bytes, what is handed over is not much longer than the file.
func FuzzTiles(f *testing.F) {
	f.Add(phoneHEIC(3, 0, cameraBlock(6, 240, 160)).build(f))
	f.Add(singleHEIC("single.heic", 0).build(f))
	f.Fuzz(func(t *testing.T, data []byte) {
		if c, ok := codedHEIC(data); ok && (len(c.Stream) > 2*len(data) || c.TileWidth < 1 || c.TileHeight < 1) {
			t.Fatal(len(data), len(c.Stream), c.Width, c.Height, c.TileWidth, c.TileHeight)
		}
	})
}
