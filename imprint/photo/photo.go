// Package photo reads one photograph or scan and says what can be trusted
// about it.
//
// Its opinion: a file is what its bytes say, not what its name says; nothing is
// decoded before its size is known and allowed; a picture is turned upright
// exactly once; a resolution or focal length that may be a program's habit
// rather than a fact is "unknown", because a wrong scale is worse than none.
// No position (GPS), owner's name or serial number is read from a file.
//
// Pixel convention, used throughout sitspan: integer coordinates are pixel
// centres. The centre of the top-left pixel of the upright picture is (0, 0),
// x grows to the right and y downwards, and the picture covers
// [-0.5, Width-0.5] x [-0.5, Height-0.5].
//
// Turning a HEIC picture. Phones write the turn twice: as irot/imir properties
// of the container and as the EXIF orientation. ISO/IEC 23008-12 makes the
// properties binding (clause from memory, the standard settles it), and libheif, on which
// github.com/gen2brain/heic v0.4.5 stands, applies them while decoding and
// leaves EXIF alone: seen on a phone's layout (a grid of tiles) with every irot
// and imir, EXIF agreeing or not, which are this package's tests. So EXIF's
// orientation is ignored in HEIC, and obeyed everywhere else. Tiles that a
// native decoder gives are turned here, like a JPEG.
package photo

import (
	"bytes"
	"crypto/sha256"
	"image"
	"time"
)

// Limits bounds what is read. A zero field means its default.
type Limits struct {
	Bytes  int64 // largest file, in bytes; default DefaultBytes
	Pixels int64 // largest picture, width x height in px; default DefaultPixels
}

// Defaults of Limits. The largest phone pictures in use are about 50 megapixels
// and 30 MB (common practice, no source).
const (
	DefaultBytes  = 64 << 20
	DefaultPixels = 60_000_000
)

func (l Limits) orDefault() Limits {
	if l.Bytes <= 0 {
		l.Bytes = DefaultBytes
	}
	if l.Pixels <= 0 {
		l.Pixels = DefaultPixels
	}
	return l
}

// Photo is a decoded picture with what its file says about it.
type Photo struct {
	Name          string   // the name given to Read or Decode
	Width, Height int      // of the upright picture, px
	Format        Format   // by content
	SHA256        [32]byte // of the file's bytes

	// Orientation is the EXIF code (1 to 8) of the turn that brought the stored
	// picture upright, whichever part of the file asked for it.
	Orientation int

	// Focal35 is EXIF's FocalLengthIn35mmFilm in mm, 0 where unknown. Whether it
	// describes this picture is another matter: see FocalDoubts.
	Focal35     float64
	FocalDoubts []FocalDoubt

	// FocalLength is the lens's own focal length in mm, 0 where unknown.
	FocalLength float64

	// Model is EXIF's name of the camera's model, empty where unknown: photos by one model have one lens.
	Model string

	// HasCamera is true where EXIF names a maker, a model or a focal length.
	HasCamera bool

	// Density is the stated resolution of the upright picture, nil where it is
	// unknown; DensityNote then says why, in a few words.
	Density     *Density
	DensityNote string

	// TakenAt is EXIF's DateTimeOriginal, zero where unknown. Without a stated
	// offset from UTC it is the camera's clock, given as if it were UTC.
	TakenAt time.Time

	// Pages is how many a TIFF has; this picture is one of them. 0 in other formats.
	Pages int

	// stored is the picture as stored (before turning by turn):
	// *image.YCbCr, *image.Gray or an opaque *image.RGBA, with Min at (0, 0).
	stored image.Image
	turn   int
}

// Decode reads a picture from a file's bytes; name is used in messages only.
// data is not kept. The error is a *ReadError.
func Decode(data []byte, name string, limits Limits) (*Photo, error) {
	limits = limits.orDefault()
	p, err := decode(data, limits)
	if err != nil {
		err.Name = name
		return nil, err
	}
	p.Name = name
	p.SHA256 = sha256.Sum256(data)
	if p.Format == TIFF {
		p.Pages = len(Pages(bytes.NewReader(data)))
	}
	return p, nil
}

func decode(data []byte, limits Limits) (*Photo, *ReadError) {
	if len(data) == 0 {
		return nil, errEmpty()
	}
	if int64(len(data)) > limits.Bytes {
		return nil, errTooLarge(int64(len(data)), limits.Bytes)
	}
	format, err := sniff(data)
	if err != nil {
		return nil, err
	}
	meta := readMetadata(format, data)
	if meta.exif.raw {
		return nil, errUnsupported("a camera's raw file or a mere preview in a TIFF")
	}
	stored, turn, err := decodePixels(format, data, meta, limits)
	if err != nil {
		return nil, err
	}
	return assemble(format, stored, turn, meta), nil
}

// assemble puts the picture and its metadata together, everything in the axes
// of the upright picture.
func assemble(format Format, stored image.Image, turn int, meta metadata) *Photo {
	p := &Photo{
		Format:      format,
		stored:      stored,
		turn:        turn,
		Orientation: meta.orientation(format),
		FocalLength: meta.exif.focal,
		Focal35:     meta.exif.focal35,
		Model:       meta.exif.model,
		HasCamera:   meta.exif.camera,
		TakenAt:     meta.exif.taken,
	}
	p.Width, p.Height = stored.Bounds().Dx(), stored.Bounds().Dy()
	if swapsAxes(p.turn) {
		p.Width, p.Height = p.Height, p.Width
	}
	p.FocalDoubts = focalDoubts(meta.exif, p.Width, p.Height)
	p.Density, p.DensityNote = chooseDensity(meta)
	if p.Density != nil && swapsAxes(p.Orientation) {
		p.Density.X, p.Density.Y = p.Density.Y, p.Density.X
	}
	return p
}

// Bounds is the upright picture's rectangle, with Min at (0, 0).
func (p *Photo) Bounds() image.Rectangle { return image.Rect(0, 0, p.Width, p.Height) }
