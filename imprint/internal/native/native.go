//go:build linux && cgo

package native

// #cgo CFLAGS: -Wall
// #cgo LDFLAGS: -ljpeg -ldl
// #include "decode.h"
import "C"

import (
	"image"
	"io"
	"os"
	"sync"
	"unsafe"
)

// most is how long a picture may take, in seconds of processor time: a hundred times what one of 50
// megapixels takes.
const most = 60

// JPEG decodes a file whose header says that it is of w x h pixels: an *image.YCbCr or *image.Gray, as
// stored; nil where only the decoder in Go may say what the file is.
func JPEG(file []byte, w, h int) image.Image { return decode(C.JPEG_FILE, file, w, h) }

// HEIC likewise decodes the primary picture, turned as its container says; nil, too, where the system has no
// libheif.
func HEIC(file []byte, w, h int) image.Image {
	if !hasHEIF() {
		return nil
	}
	return decode(C.HEIC_FILE, file, w, h)
}

var hasHEIF = sync.OnceValue(func() bool { return C.has_heif() != 0 })

func decode(kind C.int, file []byte, w, h int) image.Image {
	const side = 1 << 16
	if len(file) == 0 || w < 1 || h < 1 || w > side || h > side {
		return nil
	}
	var end C.int
	fork := C.decode_apart(kind, (*C.uint8_t)(&file[0]), C.size_t(len(file)), C.int64_t(w)*C.int64_t(h), most,
		&end)
	if fork < 0 {
		return nil
	}
	pipe := os.NewFile(uintptr(end), "picture")
	m, err := receive(pipe, w, h)
	pipe.Close() // before the wait: a fork that still writes hears that nobody reads
	well := C.wait_for(fork, C.int(boolean(err != nil))) != 0
	if err != nil || !well {
		return nil
	}
	return m
}

func boolean(b bool) int {
	if b {
		return 1
	}
	return 0
}

// receive reads a picture of w x h pixels as a fork writes it, and believes none of it before it is checked.
func receive(from io.Reader, w, h int) (image.Image, error) {
	var is C.head
	if _, err := io.ReadFull(from, unsafe.Slice((*byte)(unsafe.Pointer(&is)), unsafe.Sizeof(is))); err != nil {
		return nil, err
	}
	ratio, known := ratios[[2]C.int32_t{is.across, is.down}]
	if int(is.w) != w || int(is.h) != h || is.lines < 1 || is.lines%is.down != 0 && is.lines != is.h || !known ||
		is.planes != 1 && is.planes != 3 {
		return nil, io.ErrUnexpectedEOF
	}
	m := &image.YCbCr{Y: make([]byte, w*h), YStride: w, SubsampleRatio: ratio, Rect: image.Rect(0, 0, w, h)}
	across, down := int(is.across), int(is.down)
	m.CStride = (w + across - 1) / across
	planes := [][]byte{m.Y}
	if is.planes == 3 {
		n := m.CStride * ((h + down - 1) / down)
		m.Cb, m.Cr = make([]byte, n), make([]byte, n)
		planes = append(planes, m.Cb, m.Cr)
	}
	for left := h; left > 0; left -= int(is.lines) {
		now := min(left, int(is.lines))
		for i, p := range planes {
			n := now * w
			if i > 0 {
				n = (now + down - 1) / down * m.CStride
			}
			if _, err := io.ReadFull(from, p[:n]); err != nil {
				return nil, err
			}
			planes[i] = p[n:]
		}
	}
	var done [1]byte
	if _, err := io.ReadFull(from, done[:]); err != nil || done[0] != C.DONE {
		return nil, io.ErrUnexpectedEOF
	}
	if is.planes == 1 {
		return &image.Gray{Pix: m.Y, Stride: w, Rect: m.Rect}, nil
	}
	return m, nil
}

// ratios are how much coarser chroma may be than luma, across and down.
var ratios = map[[2]C.int32_t]image.YCbCrSubsampleRatio{
	{1, 1}: image.YCbCrSubsampleRatio444, {2, 1}: image.YCbCrSubsampleRatio422,
	{1, 2}: image.YCbCrSubsampleRatio440, {2, 2}: image.YCbCrSubsampleRatio420,
}
