package photo

import (
	"bytes"
	"errors"
	"fmt"
	"image"
	"image/jpeg"
	"image/png"
	"io"

	"github.com/gen2brain/heic"
	"golang.org/x/image/tiff"
	"golang.org/x/image/webp"
)

// decodePixels decodes the picture after its header has said that it is small
// enough. turn is the EXIF code of the turn that is left to be done.
func decodePixels(format Format, data []byte, meta metadata, limits Limits) (stored image.Image, turn int,
	_ *ReadError) {
	header, body := &source{Reader: bytes.NewReader(data)}, &source{Reader: bytes.NewReader(data)}
	err := guard(func() error {
		w, h, err := headerSize(format, header, meta)
		if err != nil {
			return err
		}
		if err := checkSize(format, w, h, limits); err != nil {
			return err
		}
		turn = meta.orientation(format)
		if stored = decodeNative(format, data, int(w), int(h), meta); stored != nil {
			return nil
		}
		if stored, err = decodeFormat(format, body, meta); err != nil {
			return err
		}
		if format == HEIC {
			turn = 1 // libheif has done it
		}
		b := stored.Bounds()
		return checkSize(format, int64(b.Dx()), int64(b.Dy()), limits)
	})
	if err != nil {
		return nil, 0, decoderError(format, err, header.dry || body.dry)
	}
	return plain(stored), turn, nil
}

// Native are decoders that are faster than Go's. They give an *image.YCbCr or *image.Gray as stored, or nil
// for what only Go's may judge.
type Native struct {
	JPEG func(file []byte, w, h int) image.Image
	HEIC func(Coded) image.Image
}

var native Native

// UseNative makes decoders the first to be asked, in place of none; it is for a program's start.
func UseNative(n Native) { native = n }

func decodeNative(format Format, data []byte, w, h int, meta metadata) image.Image {
	switch {
	case format == JPEG && native.JPEG != nil:
		return native.JPEG(data, w, h)
	case format == HEIC && native.HEIC != nil:
		c, ok := codedHEIC(data)
		if !ok {
			return nil
		}
		m := native.HEIC(c)
		if y, ok := m.(*image.YCbCr); ok && meta.heif.studioSwing {
			fullSwing(y)
		}
		return m
	}
	return nil
}

// guard turns a panic of a third party's decoder into an error.
func guard(f func() error) (err error) {
	defer func() {
		if r := recover(); r != nil {
			err = fmt.Errorf("the decoder panicked: %v", r)
		}
	}()
	return f()
}

// source is a file's bytes for a decoder; dry tells that the decoder asked for
// more than there are, which decoders report in many ways.
type source struct {
	*bytes.Reader
	dry bool
}

func (s *source) Read(p []byte) (int, error) {
	n, err := s.Reader.Read(p)
	s.dry = s.dry || err == io.EOF
	return n, err
}

func (s *source) ReadByte() (byte, error) {
	b, err := s.Reader.ReadByte()
	s.dry = s.dry || err == io.EOF
	return b, err
}

func (s *source) ReadAt(p []byte, offset int64) (int, error) {
	n, err := s.Reader.ReadAt(p, offset)
	s.dry = s.dry || err == io.EOF && n < len(p)
	return n, err
}

// headerSize is the size of the stored picture, in px, from the file's header
// alone.
func headerSize(format Format, data *source, meta metadata) (w, h int64, err error) {
	var c image.Config
	switch format {
	case JPEG:
		c, err = jpeg.DecodeConfig(data)
	case PNG:
		c, err = png.DecodeConfig(data)
	case TIFF:
		c, err = tiff.DecodeConfig(data)
	case WebP:
		c, err = webp.DecodeConfig(data)
	case HEIC:
		return meta.heif.size()
	}
	return int64(c.Width), int64(c.Height), err
}

func decodeFormat(format Format, data *source, meta metadata) (image.Image, error) {
	switch format {
	case JPEG:
		return jpeg.Decode(data)
	case PNG:
		return png.Decode(data)
	case TIFF:
		return tiff.Decode(data)
	case WebP:
		m, err := webp.Decode(data)
		if y, ok := m.(*image.YCbCr); ok {
			fullSwing(y)
		}
		return m, err
	case HEIC:
		whole, err := io.ReadAll(data.Reader)
		if err != nil {
			return nil, err
		}
		data.dry = meta.heif.cut
		return decodeHEIC(whole, meta.heif.studioSwing)
	}
	return nil, errors.New("no such format")
}

// checkSize refuses a picture of no size or of too many pixels. Its type is
// error, so that no nil *ReadError passes for one.
func checkSize(format Format, w, h int64, limits Limits) error {
	if w <= 0 || h <= 0 {
		return errDamaged(format, fmt.Errorf("a picture of %d x %d pixels", w, h))
	}
	if area(w, h) > limits.Pixels {
		return errTooManyPixels(w, h, limits.Pixels)
	}
	return nil
}

func isUnsupported(err error) bool {
	var j jpeg.UnsupportedError
	var p png.UnsupportedError
	var t tiff.UnsupportedError
	return errors.As(err, &j) || errors.As(err, &p) || errors.As(err, &t)
}

// minHEIC: below this the decoder's planes come back misaligned, because
// libheif pads every plane to at least 64 px and heic v0.4.5 does not expect it
// (a chroma plane is half as wide).
const minHEIC = 128

// size is the size to check: that of the largest item, which in an honest file
// is the primary one.
func (h heifHeader) size() (int64, int64, error) {
	if h.width == 0 || h.height == 0 {
		return 0, 0, errDamaged(HEIC, errors.New("the primary picture has no size"))
	}
	if h.width < minHEIC || h.height < minHEIC {
		return 0, 0, errUnsupported(fmt.Sprintf("a HEIC picture of %d x %d pixels, smaller than %d", h.width,
			h.height, minHEIC))
	}
	return h.largest.width, h.largest.height, nil
}

// decodeHEIC decodes the primary picture, turned as its container says, and
// copies it: the decoder's planes are windows on all of its memory, hundreds of
// megabytes that would stay alive. The decoder asks the major brand for the
// codec, which mif1 does not tell; sniffBrand has found it already.
func decodeHEIC(data []byte, studioSwing bool) (image.Image, error) {
	if string(data[8:12]) == "mif1" || string(data[8:12]) == "msf1" {
		data = bytes.Clone(data)
		copy(data[8:], "heic")
	}
	m, err := heic.Decode(bytes.NewReader(data))
	if err != nil {
		return nil, err
	}
	m = detach(m)
	if y, ok := m.(*image.YCbCr); ok && studioSwing {
		fullSwing(y)
	}
	return m, nil
}

func detach(m image.Image) image.Image {
	switch m := m.(type) {
	case *image.YCbCr:
		d := *m
		d.Y, d.Cb, d.Cr = bytes.Clone(m.Y), bytes.Clone(m.Cb), bytes.Clone(m.Cr)
		return &d
	case *image.Gray:
		d := *m
		d.Pix = bytes.Clone(m.Pix)
		return &d
	}
	return plain(m) // which copies
}
