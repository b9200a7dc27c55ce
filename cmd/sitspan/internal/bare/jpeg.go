package bare

import (
	"bytes"
	"encoding/binary"
	"image"
	"image/jpeg"

	"sitspan/cmd/sitspan/internal/words"
	"sitspan/imprint/photo"
)

var errJPEG = words.Fault("error.bare.jpeg", nil)

// fromJPEG keeps the segments that the pixels are decoded from, JFIF's density and the colour profile,
// puts its own EXIF block in, and drops the rest, all that follows the picture's end included (ITU-T
// T.81, B.1.1; the clause from memory, the recommendation settles it; Go's decoder reads what is kept).
func fromJPEG(data []byte, p *photo.Photo) ([]byte, error) {
	t, out := tags{}, []byte{0xff, 0xd8}
	var kept []byte
	for at := 2; ; {
		marker, body, next, err := segment(data, at)
		if err != nil {
			return nil, err
		}
		if marker == 0xe1 && bytes.HasPrefix(body, []byte("Exif\x00\x00")) && len(t) == 0 {
			t = readTags(body[6:])
		}
		if needed(marker, body) {
			kept = append(kept, data[at:next]...)
		}
		at = next
		switch marker {
		case 0xda: // the scan's data follow
			end := scanEnd(data, at)
			kept = append(kept, data[at:end]...)
			at = end
		case 0xd9:
			return append(append(out, exifSegment(t.of(p))...), kept...), nil
		}
	}
}

func exifSegment(block []byte) []byte {
	s := binary.BigEndian.AppendUint16([]byte{0xff, 0xe1}, uint16(len(block)+2))
	return append(s, block...)
}

// needed says whether a segment is: not comments, and of the application's
// segments only JFIF's, the colour profile's and Adobe's, which says how colours
// are stored.
func needed(marker byte, body []byte) bool {
	switch {
	case marker == 0xfe:
		return false
	case marker == 0xe0:
		// no thumbnail
		return bytes.HasPrefix(body, []byte("JFIF\x00")) && len(body) >= 14 && body[12] == 0 && body[13] == 0
	case marker == 0xe2:
		return bytes.HasPrefix(body, []byte("ICC_PROFILE\x00"))
	case marker == 0xee:
		return bytes.HasPrefix(body, []byte("Adobe"))
	case marker >= 0xe0 && marker <= 0xef:
		return false
	}
	return true
}

// segment reads the marker at a place, its body, and where the next begins.
func segment(data []byte, at int) (marker byte, body []byte, next int, err error) {
	for at+1 < len(data) && data[at] == 0xff && data[at+1] == 0xff {
		at++ // a fill byte
	}
	if at+1 >= len(data) || data[at] != 0xff {
		return 0, nil, 0, errJPEG
	}
	marker = data[at+1]
	if marker == 0xd9 || marker == 0x01 || marker >= 0xd0 && marker <= 0xd7 {
		return marker, nil, at + 2, nil
	}
	if at+4 > len(data) {
		return 0, nil, 0, errJPEG
	}
	next = at + 2 + int(binary.BigEndian.Uint16(data[at+2:]))
	if next < at+4 || next > len(data) {
		return 0, nil, 0, errJPEG
	}
	return marker, data[at+4 : next], next, nil
}

// scanEnd is where a scan's data end: at a marker that is neither a stuffed
// zero nor a restart.
func scanEnd(data []byte, at int) int {
	for ; at+1 < len(data); at++ {
		if m := data[at+1]; data[at] == 0xff && m != 0 && m != 0xff && (m < 0xd0 || m > 0xd7) {
			return at
		}
	}
	return len(data)
}

// bareQuality is that of pictures that are written anew.
const bareQuality = 95

// encodeJPEG writes the upright picture anew.
func encodeJPEG(p *photo.Photo) ([]byte, error) {
	return Painted(p, p.Colour(max(p.Width, p.Height)))
}

// Painted is the bare JPEG file of a photo whose pixels were changed: img is the
// upright picture, at the photo's full size.
func Painted(p *photo.Photo, img image.Image) ([]byte, error) {
	var b bytes.Buffer
	if err := jpeg.Encode(&b, img, &jpeg.Options{Quality: bareQuality}); err != nil {
		return nil, err
	}
	return append(append([]byte{0xff, 0xd8}, exifSegment(tagsOf(p).of(p))...), b.Bytes()[2:]...), nil
}

// tagsOf are the tags of a picture that is written anew, upright.
func tagsOf(p *photo.Photo) tags {
	t := tags{tagOrientation: 1}
	if p.Focal35 > 0 {
		t[tagFocal35] = p.Focal35
	}
	if p.FocalLength > 0 {
		t[tagFocal] = p.FocalLength
	}
	if p.Density != nil {
		t[tagXResolution], t[tagYResolution], t[tagUnit] = p.Density.X*10, p.Density.Y*10, 3 // per cm
	}
	return t
}
