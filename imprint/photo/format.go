package photo

import (
	"bytes"
	"encoding/binary"
)

// Format is a picture format, told by a file's content.
type Format string

// The formats that are read.
const (
	JPEG Format = "JPEG"
	PNG  Format = "PNG"
	TIFF Format = "TIFF"
	WebP Format = "WebP"
	HEIC Format = "HEIC"
)

// readable are the signatures of the formats that are read. A '?' stands for
// any byte.
var readable = []struct {
	magic  string
	format Format
}{
	{"\xff\xd8\xff", JPEG},
	{"\x89PNG\r\n\x1a\n", PNG},
	{"II*\x00", TIFF},
	{"MM\x00*", TIFF},
	{"RIFF????WEBPVP8", WebP},
}

// recognised are signatures of files that people take for photos, to say what
// they are; asked first, since some wear TIFF's clothes.
var recognised = []struct{ magic, name string }{
	{"II*\x00????CR", "a camera's raw file"},
	{"IIRO", "a camera's raw file"},
	{"IIU\x00", "a camera's raw file"},
	{"FUJIFILMCCD-RAW", "a camera's raw file"},
	{"II+\x00", "a BigTIFF picture"},
	{"MM\x00+", "a BigTIFF picture"},
	{"GIF8", "a GIF picture"},
	{"BM????\x00\x00\x00\x00", "a BMP picture"},
	{"\xff\x0a", "a JPEG XL picture"},
	{"\x00\x00\x00\x0cJXL ", "a JPEG XL picture"},
	{"\x00\x00\x00\x0cjP  ", "a JPEG 2000 picture"},
	{"8BPS", "a layered picture of an editing program"},
	{"PK\x03\x04", "a ZIP archive"},
}

// sniff tells a file's format from its first bytes.
func sniff(data []byte) (Format, *ReadError) {
	if matches(data, "%PDF-") {
		return "", errPDF()
	}
	for _, r := range recognised {
		if matches(data, r.magic) {
			return "", errUnsupported(r.name)
		}
	}
	for _, r := range readable {
		if matches(data, r.magic) {
			return r.format, nil
		}
	}
	if matches(data, "????ftyp") {
		return sniffBrand(data)
	}
	if looksLikeText(data) {
		return "", errNotAPhoto("the file holds text, not a picture")
	}
	return "", errNotAPhoto("the file holds no picture")
}

func matches(data []byte, magic string) bool {
	if len(data) < len(magic) {
		return false
	}
	for i := range len(magic) {
		if magic[i] != '?' && magic[i] != data[i] {
			return false
		}
	}
	return true
}

func looksLikeText(data []byte) bool {
	head := data[:min(len(data), 512)]
	return !bytes.ContainsFunc(head, func(r rune) bool {
		return r < ' ' && r != '\n' && r != '\r' && r != '\t' && r != '\f' || r == '\ufffd'
	})
}

// cousins are files with an ftyp box that are not read, by brand.
var cousins = []struct{ brand, name string }{
	{"avif", "an AVIF picture"},
	{"avis", "an AVIF picture"},
	{"crx ", "a camera's raw file"},
	{"hevc", "a video"},
	{"isom", "a video"},
	{"mp41", "a video"},
	{"mp42", "a video"},
	{"qt  ", "a video"},
}

// sniffBrand tells HEIC from its many cousins by the brands in the ftyp box: ISO/IEC 14496-12, 4.3
// (the clause from memory; the standard settles it). A major brand of mif1 says nothing about the
// codec, so the compatible brands count as much.
func sniffBrand(data []byte) (Format, *ReadError) {
	size := int(binary.BigEndian.Uint32(data))
	if size < 16 || size > len(data) {
		return "", errTruncated(HEIC, nil)
	}
	brands := map[string]bool{string(data[8:12]): true}
	for i := 16; i+4 <= size; i += 4 {
		brands[string(data[i:i+4])] = true
	}
	if brands["heic"] || brands["heix"] || brands["heim"] || brands["heis"] {
		return HEIC, nil
	}
	for _, c := range cousins {
		if brands[c.brand] {
			return "", errUnsupported(c.name)
		}
	}
	return "", errUnsupported("a picture or video of an unknown brand")
}
