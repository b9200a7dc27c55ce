package photo

import "encoding/binary"

// Coded is a HEIC's primary picture as it is coded: a grid of tiles, which phones write, or one tile.
type Coded struct {
	Width, Height         int // px, before the container's turn
	TileWidth, TileHeight int // px; tiles cover the picture row by row, from its top left
	// Stream has the tiles' NAL units (ITU-T H.265), parameter sets first, each after its length in 4 bytes,
	// big-endian; a length of 0 ends a tile.
	Stream []byte
}

const mostTiles = 1 << 10 // 60 megapixels in tiles of 256 px are 916

// codedHEIC finds the coded picture in a file; ok is false for whatever is unusual or wrong: what to say of
// such a file is for a decoder of whole files. ISO/IEC 14496-12, 14496-15 and 23008-12, from memory; tests of
// package native hold it against libheif and FFmpeg.
func codedHEIC(data []byte) (c Coded, ok bool) {
	h, items := readHEIF(data), readItems(data)
	c = Coded{Width: int(h.width), Height: int(h.height), TileWidth: int(h.width), TileHeight: int(h.height)}
	primary := items.primary()
	tiles, kinds := []uint32{primary}, items.kinds()
	isGrid := kinds[primary] == "grid"
	if isGrid {
		tiles = items.derivedFrom(primary)
	}
	if len(tiles) == 0 || len(tiles) > mostTiles || c.Width < 1 || c.Height < 1 {
		return c, false
	}
	items.keep(append(tiles, primary))
	if !items.only(primary, "irot", "imir") ||
		isGrid && !c.laidOut(items.content[primary], len(tiles), items.property(tiles[0], "ispe")) {
		return c, false
	}
	for _, t := range tiles {
		size := items.property(t, "ispe")
		if kinds[t] != "hvc1" || int(size.width) != c.TileWidth || int(size.height) != c.TileHeight ||
			t != primary && !items.only(t) {
			return c, false
		}
		if !c.add(items.property(t, "hvcC").body, items.content[t]) || len(c.Stream) > 2*len(data) {
			return c, false
		}
	}
	return c, true
}

// laidOut reads the grid's own item: how many tiles lie across and down, and how much of them shows.
func (c *Coded) laidOut(grid []byte, tiles int, tile property) bool {
	r := fields{grid, true}
	version, long := r.number(1), r.number(1)&1 != 0
	down, across, size := int(r.number(1))+1, int(r.number(1))+1, 2
	if long {
		size = 4
	}
	w, h := int(r.number(size)), int(r.number(size))
	c.TileWidth, c.TileHeight = int(tile.width), int(tile.height)
	return r.ok && version == 0 && w == c.Width && h == c.Height && tiles == down*across &&
		covers(c.TileWidth, across, w) && covers(c.TileHeight, down, h)
}

// covers tells that n tiles, and no fewer, are as long as a side of the picture. Two pixels share their
// chroma, and no two tiles do.
func covers(tile, n, side int) bool {
	return tile > 0 && (tile%2 == 0 || n == 1) && (n-1)*tile < side && side <= n*tile
}

// add appends a tile: its decoder configuration's parameter sets, and its coded picture.
func (c *Coded) add(configuration, picture []byte) bool {
	const before, most = 21, 1 << 12 // bytes of an hvcC box before the length of a unit's length; of all of it
	sets, coded := fields{configuration, len(configuration) < most}, fields{picture, len(picture) > 0}
	sets.take(before)
	fourBytes := sets.number(1)&3 == 3
	for arrays := sets.number(1); arrays > 0 && sets.ok; arrays-- {
		sets.number(1)
		for n := sets.number(2); n > 0 && sets.ok; n-- {
			c.unit(&sets, 2)
		}
	}
	for len(coded.rest) > 0 && coded.ok {
		c.unit(&coded, 4)
	}
	c.Stream = append(c.Stream, 0, 0, 0, 0)
	return sets.ok && coded.ok && fourBytes
}

// unit appends a NAL unit, which comes after its length in so many bytes. One of no length would end the
// tile.
func (c *Coded) unit(from *fields, bytes int) {
	u := from.take(int(from.number(bytes)))
	from.ok = from.ok && len(u) > 0
	c.Stream = append(binary.BigEndian.AppendUint32(c.Stream, uint32(len(u))), u...)
}
