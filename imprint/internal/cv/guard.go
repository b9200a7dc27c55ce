package cv

import (
	"encoding/binary"
	"errors"
	"fmt"
	"image"
	"math"
	"runtime"

	"gocv.io/x/gocv"
)

// All checks that stand between a caller's input and OpenCV live in this file:
// a C++ exception cannot be recovered from, so nothing may reach OpenCV that
// could raise one.

const (
	// MaxPixels is the largest picture accepted, in px. It covers the largest
	// phone sensors' default output with room (60 MP) and bounds memory.
	MaxPixels = 80_000_000
	// maxSide is OpenCV's own limit for Remap: coordinates are 16-bit there
	// (imgproc, imgwarp.cpp: "src.cols < SHRT_MAX").
	maxSide = math.MaxInt16 - 1
	// maxSamples bounds the grid that Sample fills.
	maxSamples = 16_000_000
	// minFindSide is the shorter side in px under which a picture cannot hold
	// a readable mark: 7 modules at 2 px each.
	minFindSide = 14
)

// ErrEmptyPicture is returned for a picture without pixels.
var ErrEmptyPicture = errors.New("the picture has no pixels")

var errNotONNX = errors.New("the net is not a whole ONNX file")

// borrowed is a Mat header over Go memory, pinned as long as the header lives,
// because C++ keeps the pointer after the call that made it has returned.
type borrowed struct {
	gocv.Mat
	pin runtime.Pinner
}

// Close releases the header and lets the collector have the memory again.
func (b *borrowed) Close() {
	b.Mat.Close()
	b.pin.Unpin()
}

// borrow wraps data, rows x cols elements of type mt, without copying.
func borrow(rows, cols int, mt gocv.MatType, elem int, data []byte) (*borrowed, error) {
	if rows < 1 || cols < 1 {
		return nil, ErrEmptyPicture
	}
	if len(data) < rows*cols*elem {
		return nil, fmt.Errorf("a %dx%d matrix needs %d bytes and has %d", cols, rows, rows*cols*elem, len(data))
	}
	b := &borrowed{}
	b.pin.Pin(&data[0])
	m, err := gocv.NewMatFromBytes(rows, cols, mt, data[:rows*cols*elem])
	if err != nil {
		b.pin.Unpin()
		return nil, err
	}
	b.Mat = m
	return b, nil
}

// checkBounds accepts a picture's bounds, stride and buffer, elem bytes a pixel.
func checkBounds(r image.Rectangle, stride, buffer, elem int) error {
	w, h := r.Dx(), r.Dy()
	switch {
	case w < 1 || h < 1:
		return ErrEmptyPicture
	case w > maxSide || h > maxSide:
		return fmt.Errorf("the picture is %d x %d px; a side may have at most %d", w, h, maxSide)
	case w*h > MaxPixels:
		return fmt.Errorf("the picture is %d x %d px = %.0f MP; at most %d MP are read", w, h, float64(w*h)/1e6,
			MaxPixels/1_000_000)
	case stride < w*elem || buffer < (h-1)*stride+w*elem:
		return fmt.Errorf("the picture's buffer of %d bytes is too short for %d x %d px", buffer, w, h)
	}
	return nil
}

// plane8 is a checked 8-bit picture without gaps between its rows.
type plane8 struct {
	pix  []byte
	w, h int
}

// greyBounds checks a grey picture and returns its size in px.
func greyBounds(img *image.Gray) (size image.Point, err error) {
	if img == nil {
		return size, ErrEmptyPicture
	}
	return img.Rect.Size(), checkBounds(img.Rect, img.Stride, len(img.Pix), 1)
}

// greyPlane checks a grey picture and returns its pixels, copied only where
// the rows have gaps (a sub-image).
func greyPlane(img *image.Gray) (plane8, error) {
	size, err := greyBounds(img)
	if err != nil {
		return plane8{}, err
	}
	w, h := size.X, size.Y
	if img.Stride == w {
		return plane8{img.Pix[:w*h], w, h}, nil
	}
	p := plane8{make([]byte, w*h), w, h}
	for y := range h {
		copy(p.pix[y*w:(y+1)*w], img.Pix[y*img.Stride:])
	}
	return p, nil
}

// mat wraps the plane for OpenCV.
func (p plane8) mat() (*borrowed, error) {
	return borrow(p.h, p.w, gocv.MatTypeCV8U, 1, p.pix)
}

// checkGrid accepts the coordinate maps of a w x h grid.
func checkGrid(mapX, mapY []float32, w, h int) error {
	switch {
	case w < 1 || h < 1:
		return fmt.Errorf("the grid is %d x %d samples; it needs at least one", w, h)
	case w > maxSide || h > maxSide || w*h > maxSamples:
		return fmt.Errorf("the grid is %d x %d samples; at most %d in all are taken", w, h, maxSamples)
	case len(mapX) != w*h || len(mapY) != w*h:
		return fmt.Errorf("the grid is %d x %d and its maps have %d and %d values", w, h, len(mapX), len(mapY))
	}
	return nil
}

// checkShape accepts the shape of a net's input.
func checkShape(shape [4]int) error {
	n := 1
	for _, s := range shape {
		if s < 1 || s > maxNetValues || n > maxNetValues/s {
			return fmt.Errorf("a net's input of %v values cannot be used", shape)
		}
		n *= s
	}
	return nil
}

// checkONNX walks the outermost fields of an ONNX model, a protocol buffer
// (ModelProto of onnx.proto: 1 = ir_version, a varint; 7 = graph, a message),
// and accepts one that is whole and has both. It does not look inside.
func checkONNX(b []byte) error {
	var version, graph bool
	for rest := b; len(rest) > 0; {
		key, n := binary.Uvarint(rest)
		if n <= 0 {
			return errNotONNX
		}
		rest = rest[n:]
		field, wire := key>>3, key&7
		var size uint64
		switch wire {
		case 0: // varint
			_, n := binary.Uvarint(rest)
			if n <= 0 {
				return errNotONNX
			}
			size, version = uint64(n), version || field == 1
		case 2: // a length and as many bytes
			l, n := binary.Uvarint(rest)
			if n <= 0 {
				return errNotONNX
			}
			rest = rest[n:]
			size, graph = l, graph || field == 7 && l > 0
		default:
			return errNotONNX
		}
		if size > uint64(len(rest)) {
			return errNotONNX
		}
		rest = rest[size:]
	}
	if !version || !graph {
		return errNotONNX
	}
	return nil
}
