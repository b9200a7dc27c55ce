package photo

import "encoding/binary"

// heifHeader is what the boxes of a HEIF file say about its primary item,
// without decoding anything: ISO/IEC 14496-12 (boxes) and 23008-12 (items,
// properties), clauses from memory, the standards settle them.
type heifHeader struct {
	width, height int64    // of the primary item before turning, px; 0 where not stated
	largest       property // the ispe with the largest area in the file
	orientation   int      // EXIF code equal to the primary item's irot and imir
	studioSwing   bool     // the primary item's nclx says that its range is not full
	cut           bool     // the last box promises more bytes than there are
}

// property is an entry of the ipco box; only what is needed is kept.
type property struct {
	kind          string
	width, height int64 // ispe
	value         byte  // irot: quarter turns anticlockwise; imir: axis; colr: nclx flags
	body          []byte
}

// readHEIF reads the header; whatever is malformed stays unknown.
func readHEIF(data []byte) heifHeader {
	h := heifHeader{orientation: 1}
	h.cut = !eachBox(data, func(kind string, body []byte) {
		if kind != "meta" || len(body) < 4 {
			return
		}
		var primary uint32
		eachBox(body[4:], func(kind string, body []byte) {
			if kind == "pitm" {
				primary = itemID(body)
			}
		})
		eachBox(body[4:], func(kind string, body []byte) {
			if kind == "iprp" {
				h.readProperties(body, primary)
			}
		})
	})
	return h
}

// eachBox calls visit for each box in data: a 32 bit size (1: a 64 bit size
// follows; 0: to the end), a four-letter kind, the body. It is false where a box
// does not fit.
func eachBox(data []byte, visit func(kind string, body []byte)) bool {
	for len(data) >= 8 {
		size, header := uint64(binary.BigEndian.Uint32(data)), uint64(8)
		if size == 0 {
			size = uint64(len(data))
		}
		if size == 1 && len(data) >= 16 {
			size, header = binary.BigEndian.Uint64(data[8:]), 16
		}
		if size < header || size > uint64(len(data)) {
			return false
		}
		visit(string(data[4:8]), data[header:size])
		data = data[size:]
	}
	return true
}

// itemID reads the body of a pitm box: version and flags, then 16 or 32 bits.
func itemID(body []byte) uint32 {
	switch {
	case len(body) >= 6 && body[0] == 0:
		return uint32(binary.BigEndian.Uint16(body[4:]))
	case len(body) >= 8:
		return binary.BigEndian.Uint32(body[4:])
	}
	return 0
}

// readProperties reads the iprp box: the properties (ipco) and which of them
// belong to the primary item, in order (ipma).
func (h *heifHeader) readProperties(iprp []byte, primary uint32) {
	var properties []property
	eachBox(iprp, func(kind string, body []byte) {
		switch kind {
		case "ipco":
			eachBox(body, func(kind string, body []byte) {
				p := readProperty(kind, body)
				properties = append(properties, p)
				if area(p.width, p.height) > area(h.largest.width, h.largest.height) {
					h.largest = p
				}
			})
		case "ipma":
			first := true
			eachAssociation(body, func(id uint32, indices []int) {
				for _, index := range indices {
					if id == primary && first && index >= 1 && index <= len(properties) {
						h.apply(properties[index-1])
					}
				}
				first = first && id != primary
			})
		}
	})
}

func readProperty(kind string, body []byte) property {
	p := property{kind: kind, body: body}
	switch {
	case kind == "ispe" && len(body) >= 12:
		p.width = int64(binary.BigEndian.Uint32(body[4:]))
		p.height = int64(binary.BigEndian.Uint32(body[8:]))
	case (kind == "irot" || kind == "imir") && len(body) >= 1:
		p.value = body[0]
	case kind == "colr" && len(body) >= 11 && string(body[:4]) == "nclx":
		p.kind, p.value = "nclx", body[10]
	}
	return p
}

// area is width x height without overflow: both are below 2^32, and a product
// above 2^62 is as good as 2^62.
func area(w, h int64) int64 {
	if h != 0 && w > (1<<62)/h {
		return 1 << 62
	}
	return w * h
}

// eachAssociation visits the items of an ipma box with the indices of their properties, counted from 1.
func eachAssociation(ipma []byte, visit func(id uint32, indices []int)) {
	if len(ipma) < 8 {
		return
	}
	idSize, indexSize := 2, 1
	if ipma[0] > 0 {
		idSize = 4
	}
	if ipma[3]&1 != 0 {
		indexSize = 2
	}
	rest := ipma[8:]
	for range binary.BigEndian.Uint32(ipma[4:]) {
		if len(rest) < idSize+1 {
			return
		}
		id, count := bigEndian(rest[:idSize]), int(rest[idSize])
		rest = rest[idSize+1:]
		if len(rest) < count*indexSize {
			return
		}
		visit(id, indices(rest[:count*indexSize], indexSize))
		rest = rest[count*indexSize:]
	}
}

// indices drops the "essential" bit, the highest of each entry.
func indices(entries []byte, size int) (list []int) {
	for i := 0; i < len(entries); i += size {
		list = append(list, int(bigEndian(entries[i:i+size])&(1<<(8*size-1)-1)))
	}
	return list
}

func bigEndian(b []byte) (v uint32) {
	for _, c := range b {
		v = v<<8 | uint32(c)
	}
	return v
}

// apply takes one property of the primary item into account.
func (h *heifHeader) apply(p property) {
	switch p.kind {
	case "ispe":
		h.width, h.height = p.width, p.height
	case "nclx":
		h.studioSwing = p.value&0x80 == 0 // full_range_flag
	case "irot":
		for range p.value & 3 {
			h.orientation = then(h.orientation, 8) // EXIF 8: a quarter anticlockwise
		}
	case "imir":
		if p.value&1 == 0 {
			h.orientation = then(h.orientation, 4) // top and bottom exchanged
		} else {
			h.orientation = then(h.orientation, 2) // left and right exchanged
		}
	}
}
