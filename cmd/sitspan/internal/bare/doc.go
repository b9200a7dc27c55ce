// Package bare takes out of a picture's file what measuring does not need:
// where and when it was taken and by whom, the camera's name and number, text,
// thumbnails, further pictures and films behind the first.
//
// Its opinion: JPEG and PNG keep their pixels bit for bit, since a record must
// come out the same from the bare file; what stays beside them is the
// orientation, the focal length with what tells whether to trust it (the size
// that the camera wrote, its digital zoom), the resolution, and the colour
// profile. Other formats are decoded and written anew. Everything that is not
// known to be needed goes, rather than everything that is known to be private.
package bare

import (
	"sitspan/cmd/sitspan/internal/words"
	"sitspan/imprint/photo"
)

// Make gives the bare file of a picture and its extension. name is used in
// messages only. The error is a *photo.ReadError where the picture cannot be
// read.
func Make(data []byte, name string, limits photo.Limits) (out []byte, extension string, err error) {
	p, err := photo.Decode(data, name, limits)
	if err != nil {
		return nil, "", err
	}
	return Of(data, p, name)
}

// Of is Make of a picture that was decoded already.
func Of(data []byte, p *photo.Photo, name string) (out []byte, extension string, err error) {
	switch p.Format {
	case photo.JPEG:
		out, err = fromJPEG(data, p)
		extension = ".jpg"
	case photo.PNG:
		out, err = fromPNG(data, p)
		extension = ".png"
	case photo.TIFF:
		out, err = encodePNG(p)
		extension = ".png"
	default:
		out, err = encodeJPEG(p)
		extension = ".jpg"
	}
	if err != nil {
		return nil, "", words.Fault("error.of_file", words.Values{"file": name, "why": err})
	}
	return out, extension, nil
}
