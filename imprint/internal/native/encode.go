//go:build linux && cgo

package native

// #include <stdlib.h>
// #include "decode.h"
import "C"

import (
	"image"
	"math"
	"unsafe"
)

// EncodeJPEG writes a picture as JPEG at a quality of 1 to 100, with half the colours across and down and
// nothing but the pixels, as Go's encoder does; what is transparent is not told. nil where it cannot.
func EncodeJPEG(m *image.RGBA, quality int) []byte {
	w, h := m.Rect.Dx(), m.Rect.Dy()
	if w < 1 || h < 1 || max(w, h) > math.MaxUint16 || m.Stride < 4*w || len(m.Pix) < (h-1)*m.Stride+4*w {
		return nil
	}
	var file *C.uint8_t
	var size C.size_t
	pixels := (*C.uint8_t)(unsafe.SliceData(m.Pix))
	if C.encode_jpeg(pixels, C.int(w), C.int(h), C.int(m.Stride), C.int(quality), &file, &size) == 0 {
		return nil
	}
	defer C.free(unsafe.Pointer(file))
	return C.GoBytes(unsafe.Pointer(file), C.int(size))
}
