//go:build linux && cgo

package native

// #cgo CFLAGS: -Wall
// #cgo LDFLAGS: -ljpeg -ldl -pthread
// #include "decode.h"
import "C"

import (
	"encoding/binary"
	"image"
	"io"
	"math"
	"os"
	"runtime"
	"sync"
	"unsafe"
)

// most is how long a picture may take, in seconds of processor time: a hundred times what one of 50
// megapixels takes.
const most = 60

// JPEG decodes a file whose header says that it is of w x h pixels: an *image.YCbCr or *image.Gray, as
// stored; nil where only the decoder in Go may say what the file is.
func JPEG(file []byte, w, h int) image.Image {
	return decode(file, task{kind: C.JPEG_FILE, w: C.int32_t(w), h: C.int32_t(h)})
}

// HEVC likewise decodes the tiles of a picture of w x h pixels, as photo.Coded has them; nil, too, where the
// system has no libde265.
func HEVC(stream []byte, w, h, tileW, tileH int) image.Image {
	if !hasHEVC() || !whole(stream, w, h, tileW, tileH) {
		return nil
	}
	return decode(stream, task{kind: C.HEVC_TILES, w: C.int32_t(w), h: C.int32_t(h), tile_w: C.int32_t(tileW),
		tile_h: C.int32_t(tileH), threads: C.int32_t(runtime.GOMAXPROCS(0))})
}

// whole tells that a stream has the tiles that cover the picture, each with all of its units, and no more.
func whole(stream []byte, w, h, tileW, tileH int) bool {
	if tileW < 1 || tileH < 1 || tileW > side || tileH > side || w < 1 || h < 1 || w > side || h > side {
		return false
	}
	across, down := (w+tileW-1)/tileW, (h+tileH-1)/tileH
	left := across * down
	for len(stream) >= 4 {
		n := uint64(binary.BigEndian.Uint32(stream))
		if n > uint64(len(stream)-4) || n > math.MaxInt32 {
			return false
		}
		if n == 0 {
			left--
		}
		stream = stream[4+n:]
	}
	return left == 0 && len(stream) == 0 && (across == 1 || tileW%2 == 0) && (down == 1 || tileH%2 == 0)
}

var hasHEVC = sync.OnceValue(func() bool { return C.has_hevc() != 0 })

type task = C.task

const (
	side                 = 1 << 16 // px at most
	crash, hungry, stuck = C.CRASH, C.HUNGRY, C.STUCK
)

func decode(file []byte, t task) image.Image {
	if len(file) == 0 || t.w < 1 || t.h < 1 || t.w > side || t.h > side {
		return nil
	}
	if t.seconds == 0 {
		t.seconds = most
	}
	var end C.int
	fork := C.decode_apart((*C.uint8_t)(&file[0]), C.size_t(len(file)), &t, &end)
	if fork < 0 {
		return nil
	}
	pipe := os.NewFile(uintptr(end), "picture")
	m, err := receive(pipe, int(t.w), int(t.h))
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
