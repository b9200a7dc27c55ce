package net

// #cgo CFLAGS: -O3 -Wno-psabi
// #include "kernel.h"
import "C"

import (
	"errors"
	"fmt"
	"unsafe"
)

var errMemory = errors.New("there is not enough memory for the net")

// weights are one tensor, laid out for the convolutions.
type weights struct {
	at                      *C.float
	outputs, inputs, window int
}

// store is the memory of a net's weights.
type store struct {
	blocks []*C.float
	room   int64 // floats left in the last block
	byName map[string]*weights
}

// blockFloats is how much memory is taken at once: 16 MB.
const blockFloats = 1 << 22

func (s *store) take(n int64) (*C.float, error) {
	n = (n + C.LANES - 1) / C.LANES * C.LANES
	if n > blockFloats {
		return nil, fmt.Errorf("%w: a tensor of %d values", ErrModel, n)
	}
	if s.room < n {
		b := C.take(blockFloats)
		if b == nil {
			return nil, errMemory
		}
		s.blocks, s.room = append(s.blocks, b), blockFloats
	}
	last := s.blocks[len(s.blocks)-1]
	at := unsafe.Add(unsafe.Pointer(last), 4*(blockFloats-s.room))
	s.room -= n
	return (*C.float)(at), nil
}

// free gives the memory back.
func (s *store) free() {
	for _, b := range s.blocks {
		C.give(b, blockFloats)
	}
	s.blocks, s.room, s.byName = nil, 0, nil
}

// keep lays out a tensor: a convolution's weights (outputs x inputs x side x side) or its bias. One without
// values is that of the same name in other.
func (s *store) keep(t tensor, other *store) error {
	if len(t.raw) == 0 && other != nil && other.byName[t.name] != nil {
		s.byName[t.name] = other.byName[t.name]
		return nil
	}
	w := &weights{inputs: 1, window: 1}
	switch {
	case len(t.dims) == 1:
	case len(t.dims) == 4 && t.dims[2] == t.dims[3] && (t.dims[2] == 1 || t.dims[2] == 3):
		w.inputs, w.window = t.dims[1], t.dims[2]
	default:
		return fmt.Errorf("%w: %q has the shape %v", ErrModel, t.name, t.dims)
	}
	w.outputs = t.dims[0]
	bytes := map[uint64]int{floats: 4, halves: 2}[t.kind]
	if n := t.size(); n <= 0 || bytes == 0 || len(t.raw) != n*bytes {
		return fmt.Errorf("%w: %q has no values of its shape", ErrModel, t.name)
	}
	k, c, side := C.int32_t(w.outputs), C.int32_t(w.inputs), C.int32_t(w.window)
	var err error
	if w.at, err = s.take(int64(C.packed(k, c, side))); err != nil {
		return err
	}
	C.pack(w.at, unsafe.Pointer(&t.raw[0]), C.int(boolean(t.kind == halves)), k, c, side)
	s.byName[t.name] = w
	return nil
}

func boolean(b bool) int {
	if b {
		return 1
	}
	return 0
}
