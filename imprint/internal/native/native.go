//go:build linux && cgo

package native

// #cgo CFLAGS: -Wall
// #cgo LDFLAGS: -ljpeg -ldl
// #include "decode.h"
import "C"

import (
	"image"
	"sync"
	"unsafe"

	"sitspan/imprint/internal/largepages"
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
	bytes := C.room(C.int32_t(w), C.int32_t(h))
	memory := C.share(bytes)
	if memory == nil {
		return nil
	}
	defer C.unshare(memory, bytes)
	var d C.decoded
	if C.decode_apart(kind, (*C.uint8_t)(&file[0]), C.size_t(len(file)), C.int32_t(w), C.int32_t(h), memory, most,
		&d) == 0 {
		return nil
	}
	return picture(&d, unsafe.Slice((*byte)(memory), int(bytes)), w, h)
}

// picture copies what a fork made, and believes none of it before it is checked.
func picture(d *C.decoded, memory []byte, w, h int) image.Image {
	if d.planes != 1 && d.planes != 3 || int(d.w) != w || int(d.h) != h {
		return nil
	}
	var pix [3][]byte
	for i := range int(d.planes) {
		p := d.plane[i]
		if p.w < 1 || p.h < 1 || p.w > p.stride || p.at < 0 || int64(p.stride) > int64(len(memory)) ||
			int64(p.at)+int64(p.stride)*int64(p.h) > int64(len(memory)) {
			return nil
		}
		pix[i] = largepages.Bytes(int(p.w) * int(p.h))
		for y := range int(p.h) {
			from := int(p.at) + y*int(p.stride)
			copy(pix[i][y*int(p.w):(y+1)*int(p.w)], memory[from:])
		}
	}
	all := image.Rect(0, 0, w, h)
	luma, chroma := d.plane[0], d.plane[1]
	if int(luma.w) != w || int(luma.h) != h {
		return nil
	}
	if d.planes == 1 {
		return &image.Gray{Pix: pix[0], Stride: w, Rect: all}
	}
	for _, r := range ratios {
		if int(chroma.w) == (w+r.across-1)/r.across && int(chroma.h) == (h+r.down-1)/r.down &&
			d.plane[2].w == chroma.w && d.plane[2].h == chroma.h {
			return &image.YCbCr{Y: pix[0], Cb: pix[1], Cr: pix[2], YStride: w, CStride: int(chroma.w),
				SubsampleRatio: r.ratio, Rect: all}
		}
	}
	return nil
}

// ratios are how much coarser chroma may be than luma.
var ratios = []struct {
	across, down int
	ratio        image.YCbCrSubsampleRatio
}{
	{1, 1, image.YCbCrSubsampleRatio444}, {2, 1, image.YCbCrSubsampleRatio422},
	{1, 2, image.YCbCrSubsampleRatio440}, {2, 2, image.YCbCrSubsampleRatio420},
}
