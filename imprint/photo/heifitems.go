package photo

import "slices"

// harmless properties change neither a picture's luma nor where it lies.
var harmless = []string{"ispe", "pixi", "colr", "nclx", "hvcC", "pasp", "clli", "mdcv"}

// heifItems is what a HEIF file says of its items. Of a file from a stranger only those are kept that are
// asked for.
type heifItems struct {
	file       []byte
	boxes      map[string][]byte // the meta box's
	properties []property
	has        map[uint32][]int  // properties by item, counted from 1
	content    map[uint32][]byte // nil where it is not in one piece, or not here
}

func readItems(file []byte) *heifItems {
	i := &heifItems{file: file, boxes: map[string][]byte{}}
	eachBox(file, func(kind string, body []byte) {
		if kind == "meta" && len(body) >= 4 {
			eachBox(body[4:], func(kind string, body []byte) { i.boxes[kind] = body })
		}
	})
	return i
}

func (i *heifItems) primary() uint32 { return itemID(i.boxes["pitm"]) }

// kinds are the items' types, of the first items that there may be.
func (i *heifItems) kinds() map[uint32]string {
	kinds := map[uint32]string{}
	r := fields{i.boxes["iinf"], true}
	if r.version() == 0 {
		r.number(2)
	} else {
		r.number(4)
	}
	eachBox(r.rest, func(_ string, body []byte) {
		r, size := fields{body, len(kinds) < 4*mostTiles}, 2
		if r.version() > 2 {
			size = 4
		}
		id, _, kind := uint32(r.number(size)), r.number(2), string(r.take(4))
		if r.ok {
			kinds[id] = kind
		}
	})
	return kinds
}

// derivedFrom lists the items that a grid is put together from.
func (i *heifItems) derivedFrom(grid uint32) (list []uint32) {
	r, size := fields{i.boxes["iref"], true}, 2
	if r.version() > 0 {
		size = 4
	}
	eachBox(r.rest, func(kind string, body []byte) {
		r := fields{body, true}
		if kind != "dimg" || uint32(r.number(size)) != grid || list != nil {
			return
		}
		for n := r.number(2); n > 0 && r.ok; n-- {
			list = append(list, uint32(r.number(size)))
		}
	})
	return list
}

// keep reads the properties and the contents of some items.
func (i *heifItems) keep(wanted []uint32) {
	i.has, i.content = map[uint32][]int{}, map[uint32][]byte{}
	for _, id := range wanted {
		i.has[id] = nil
	}
	eachBox(i.boxes["iprp"], func(kind string, body []byte) {
		switch kind {
		case "ipco":
			eachBox(body, func(kind string, body []byte) {
				i.properties = append(i.properties, readProperty(kind, body))
			})
		case "ipma":
			eachAssociation(body, func(id uint32, indices []int) {
				if known, asked := i.has[id]; asked && known == nil {
					i.has[id] = indices
				}
			})
		}
	})
	i.locate()
}

// locate reads the iloc box: where in the file, or in the idat box, an item lies.
func (i *heifItems) locate() {
	r := fields{i.boxes["iloc"], true}
	version, sizes := r.version(), int(r.number(2))
	offset, length, base, index := sizes>>12, sizes>>8&15, sizes>>4&15, sizes&15
	id := 2
	if version == 0 {
		index = 0
	}
	if version > 1 {
		id = 4
	}
	for n := r.number(id); n > 0 && r.ok; n-- {
		item, in := uint32(r.number(id)), i.file
		if version > 0 && r.number(2)&15 == 1 {
			in = i.boxes["idat"]
		}
		elsewhere, from, pieces := r.number(2), r.number(base), r.number(2)
		if pieces != 1 {
			r.take(int(pieces) * (index + offset + length))
			continue
		}
		r.number(index)
		p := fields{in, r.ok}
		p.take(int(from + r.number(offset)))
		content := p.take(int(r.number(length)))
		if _, asked := i.has[item]; asked && r.ok && p.ok && elsewhere == 0 {
			i.content[item] = content
		}
	}
}

// property is an item's first of a kind; none has no size and no body.
func (i *heifItems) property(id uint32, kind string) property {
	for _, k := range i.has[id] {
		if k >= 1 && k <= len(i.properties) && i.properties[k-1].kind == kind {
			return i.properties[k-1]
		}
	}
	return property{}
}

// only tells that an item has no properties but harmless ones and those named.
func (i *heifItems) only(id uint32, named ...string) bool {
	return !slices.ContainsFunc(i.has[id], func(k int) bool {
		if k < 1 || k > len(i.properties) {
			return true
		}
		kind := i.properties[k-1].kind
		return !slices.Contains(harmless, kind) && !slices.Contains(named, kind)
	})
}

// fields reads numbers one after another; ok turns false where there are too few bytes.
type fields struct {
	rest []byte
	ok   bool
}

func (r *fields) take(n int) []byte {
	if r.ok = r.ok && n >= 0 && n <= len(r.rest); !r.ok {
		return nil
	}
	taken := r.rest[:n]
	r.rest = r.rest[n:]
	return taken
}

// number is what the next n bytes say.
func (r *fields) number(n int) (v uint64) {
	for _, c := range r.take(n) {
		v = v<<8 | uint64(c)
	}
	return v
}

// version begins a full box; its flags are left out.
func (r *fields) version() uint64 { return r.number(4) >> 24 }
