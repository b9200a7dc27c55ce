package net

// #include "kernel.h"
import "C"

import (
	"errors"
	"fmt"
	"io"
	"sync"
)

// Net is a net for photos of one size. It may be used from several goroutines at once; Close it after use.
type Net struct {
	input [4]int // photos, channels, rows, columns
	plan  *plan
	store store

	open  sync.RWMutex // held for reading while a run is on
	shut  bool
	mu    sync.Mutex
	spare []*workspace
}

// New reads a model. input is the one shape that Run will accept: photos, channels, rows, columns. Tensors
// without values are those of the same name in values, which is closed after this net; it may be nil.
func New(model io.Reader, values *Net, input [4]int) (*Net, error) {
	for _, s := range input {
		if s < 1 || s > 1<<14 {
			return nil, fmt.Errorf("a net's input of %v values cannot be used", input)
		}
	}
	n := &Net{input: input, store: store{byName: map[string]*weights{}}}
	var other *store
	if values != nil {
		other = &values.store
	}
	var graph []node
	err := readModel(model, func(n node) error { graph = append(graph, n); return nil },
		func(t tensor) error { return n.store.keep(t, other) })
	if err == nil {
		n.plan, err = newPlan(graph, n.store.byName, input)
	}
	if err != nil {
		n.store.free()
		return nil, err
	}
	return n, nil
}

// Run feeds the values, row by row in the order photo, channel, row, column, and returns the output's values
// in the same manner with its shape.
func (n *Net) Run(input []float32, shape [4]int) (output []float32, outputShape []int, err error) {
	if shape != n.input || len(input) != shape[0]*shape[1]*shape[2]*shape[3] {
		return nil, nil, fmt.Errorf("the net takes %v values (photos, channels, rows, columns), not %d as %v",
			n.input, len(input), shape)
	}
	n.open.RLock()
	defer n.open.RUnlock()
	if n.shut {
		return nil, nil, errors.New("the net is closed")
	}
	w, err := n.borrow()
	if err != nil {
		return nil, nil, err
	}
	defer n.giveBack(w)
	each := len(input) / len(n.plan.in)
	for i, v := range n.plan.in {
		C.load((*C.float)(&input[i*each]), w.at(n.plan, v))
	}
	for i := range n.plan.steps {
		w.do(n.plan, &n.plan.steps[i])
	}
	v := n.plan.values[n.plan.out[0]]
	each = v.c * v.h * v.w
	output = make([]float32, len(n.plan.out)*each)
	for i, v := range n.plan.out {
		C.store(w.at(n.plan, v), (*C.float)(&output[i*each]))
	}
	return output, []int{len(n.plan.out), v.c, v.h, v.w}, nil
}

// Close frees the net when no run is on; a later Run gives an error. It may be called twice.
func (n *Net) Close() error {
	n.open.Lock()
	defer n.open.Unlock()
	n.shut = true
	for _, w := range n.spare {
		w.free()
	}
	n.spare = nil
	n.store.free()
	return nil
}

func (n *Net) borrow() (*workspace, error) {
	n.mu.Lock()
	defer n.mu.Unlock()
	if last := len(n.spare) - 1; last >= 0 {
		w := n.spare[last]
		n.spare = n.spare[:last]
		return w, nil
	}
	return newWorkspace(n.plan)
}

func (n *Net) giveBack(w *workspace) {
	n.mu.Lock()
	defer n.mu.Unlock()
	n.spare = append(n.spare, w)
}

// kind is the loop that convolutions run. Tests try the others.
var kind = C.best_kind()

// workspace is the memory of one run.
type workspace struct {
	memory   *C.float
	floats   C.int64_t
	pictures []C.picture // one a slot
	nothing  *C.float    // the bias of convolutions that have none
}

const mostChannels = 4096

func newWorkspace(p *plan) (*workspace, error) {
	w := &workspace{floats: mostChannels}
	starts := make([]C.int64_t, len(p.slots))
	for i, s := range p.slots {
		starts[i] = w.floats
		w.floats += C.int64_t(s.h+2) * C.int64_t(s.w+2) * C.int64_t(strideOf(s.c))
	}
	if w.memory = C.take(w.floats); w.memory == nil {
		return nil, errMemory
	}
	w.nothing = w.memory
	for i, s := range p.slots {
		at := C.shifted(w.memory, starts[i])
		w.pictures = append(w.pictures, C.picture{at: at, h: C.int32_t(s.h), w: C.int32_t(s.w), c: C.int32_t(s.c),
			stride: C.int32_t(strideOf(s.c))})
	}
	return w, nil
}

func strideOf(channels int) int { return (channels + C.LANES - 1) / C.LANES * C.LANES }

func (w *workspace) free() { C.give(w.memory, w.floats) }

func (w *workspace) at(p *plan, v int) *C.picture { return &w.pictures[p.values[v].slot] }

func (w *workspace) do(p *plan, s *step) {
	a, out := w.at(p, s.in[0]), w.at(p, s.out)
	switch s.op {
	case convolve:
		by := C.convolution{weights: s.by.at, bias: w.nothing, inputs: C.int32_t(s.by.inputs),
			outputs: C.int32_t(s.by.outputs), window: C.int32_t(s.by.window)}
		if s.bias != nil {
			by.bias = s.bias.at
		}
		C.convolve(kind, &by, a, out, C.int(boolean(s.silu)))
	case sigmoid:
		C.sigmoid(a, out)
	case add:
		C.add(a, w.at(p, s.in[1]), out)
	case multiply:
		C.multiply(a, w.at(p, s.in[1]), out)
	case scale:
		C.scale(a, C.float(s.factor), out)
	case halve:
		C.halve(a, out)
	case mean:
		C.mean(a, out)
	case enlarge:
		C.enlarge(a, out)
		if s.in[1] >= 0 {
			C.join(w.at(p, s.in[1]), out, C.int32_t(s.first))
		}
	case join:
		C.join(a, out, 0)
		C.join(w.at(p, s.in[1]), out, C.int32_t(s.first))
	}
}
