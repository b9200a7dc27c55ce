package photo

import (
	"bytes"
	"crypto/sha256"
	"encoding/binary"
	"encoding/hex"
	"errors"
	"fmt"
	"io"
)

// mostPages bounds the pages of a TIFF that are looked for; a chain that is longer,
// or leads in a circle, ends there.
const mostPages = 2000

// Tag NewSubfileType and its bits (TIFF 6.0, section 8, as public copies quote it).
const (
	newSubfileType = 254
	reduced        = 1 // a smaller copy of another picture of the file
	mask           = 4 // where another picture is to be seen through
)

// Pages gives the places in the file of a TIFF's pages, in bytes from its start, as
// PageAt takes them; reduced copies and masks are no pages. The first is the one that
// Decode reads. A file that is no TIFF, and one whose chain of pages is broken after
// the first, has the pages that are found, none or more; r need not be a TIFF.
func Pages(r io.ReaderAt) (places []int64) {
	head := make([]byte, 8)
	if _, err := r.ReadAt(head, 0); err != nil {
		return nil
	}
	order, ok := byteOrder(head)
	if !ok {
		return nil
	}
	seen := make(map[int64]bool)
	for at := int64(order.Uint32(head[4:])); at > 0 && !seen[at] && len(seen) < mostPages; {
		seen[at] = true
		kind, next, err := directory(r, order, at)
		if err != nil {
			break
		}
		if len(places) == 0 || kind&(reduced|mask) == 0 {
			places = append(places, at)
		}
		at = next
	}
	return places
}

func byteOrder(head []byte) (binary.ByteOrder, bool) {
	switch string(head[:4]) {
	case "II*\x00":
		return binary.LittleEndian, true
	case "MM\x00*":
		return binary.BigEndian, true
	}
	return nil, false
}

// directory reads a page's directory: its kind, and the place of the next one, 0 for
// none.
func directory(r io.ReaderAt, order binary.ByteOrder, at int64) (kind uint32, next int64, err error) {
	count := make([]byte, 2)
	if _, err := r.ReadAt(count, at); err != nil {
		return 0, 0, err
	}
	entries := make([]byte, 12*int(order.Uint16(count))+4)
	if _, err := r.ReadAt(entries, at+2); err != nil {
		return 0, 0, err
	}
	for ; len(entries) > 4; entries = entries[12:] {
		if order.Uint16(entries) == newSubfileType {
			kind = order.Uint32(entries[8:])
		}
	}
	return kind, int64(order.Uint32(entries)), nil
}

// PageAt changes a TIFF's bytes so that Decode reads the page at a place that Pages
// gave.
func PageAt(data []byte, place int64) error {
	if len(data) < 8 || place < 8 || place >= int64(len(data)) {
		return fmt.Errorf("there is no page at %d", place)
	}
	order, ok := byteOrder(data)
	if !ok {
		return errors.New("this is no TIFF")
	}
	order.PutUint32(data[4:], uint32(place))
	return nil
}

// PageSHA256 names a page after the first by its file's hash and its number.
func PageSHA256(file [32]byte, page int) [32]byte {
	return sha256.Sum256(fmt.Appendf(nil, "%s page %d", hex.EncodeToString(file[:]), page))
}

// ReadPage is Read for a page of a TIFF, from 1; Read's page is the first.
func ReadPage(path string, page int, limits Limits) (*Photo, error) {
	if page <= 1 {
		return Read(path, limits)
	}
	data, readErr := readRegular(path, limits.orDefault().Bytes)
	if readErr != nil {
		readErr.Name = path
		return nil, readErr
	}
	file := sha256.Sum256(data)
	places := Pages(bytes.NewReader(data))
	if page > len(places) || PageAt(data, places[page-1]) != nil {
		err := errDamaged(TIFF, fmt.Errorf("it has no page %d", page))
		err.Name = path
		return nil, err
	}
	p, err := Decode(data, path, limits)
	if err != nil {
		return nil, err
	}
	p.Pages = len(places)
	p.Name, p.SHA256 = fmt.Sprintf("%s#%d", path, page), PageSHA256(file, page)
	return p, nil
}
