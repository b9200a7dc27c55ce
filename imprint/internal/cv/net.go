package cv

import (
	"errors"
	"fmt"
	"slices"
	"sync"

	"gocv.io/x/gocv"
)

// maxNetValues bounds the values in a net's input.
const maxNetValues = 1 << 26

// Net is a neural net in ONNX form with one input and one output, run on the
// processor. It may be used from several goroutines; runs take turns.
type Net struct {
	mu    sync.Mutex
	net   gocv.Net
	input [4]int
	open  bool
}

// NewNet loads a net from the bytes of an ONNX file. input is the one shape
// that Run will accept: batch, channels, rows, columns.
//
// The bytes must be a model that this program ships: OpenCV ends the process
// on a layer that it does not know. A file that is cut short, or is something
// else altogether, is told apart before that and gives an error.
func NewNet(onnx []byte, input [4]int) (*Net, error) {
	if err := checkShape(input); err != nil {
		return nil, err
	}
	if err := checkONNX(onnx); err != nil {
		return nil, err
	}
	n, err := gocv.ReadNetFromONNXBytes(onnx)
	if err != nil {
		return nil, fmt.Errorf("load net: %w", err)
	}
	if n.Empty() {
		n.Close()
		return nil, errors.New("load net: it has no layers")
	}
	n.SetPreferableBackend(gocv.NetBackendOpenCV)
	n.SetPreferableTarget(gocv.NetTargetCPU)
	return &Net{net: n, input: input, open: true}, nil
}

// Run feeds the values, row by row in the order batch, channel, row, column,
// and returns the output's values in the same manner with its shape. The shape
// must be the one given to NewNet.
func (n *Net) Run(input []float32, shape [4]int) (output []float32, outputShape []int, err error) {
	if shape != n.input {
		return nil, nil, fmt.Errorf("the net takes %v values (batch, channels, rows, columns), not %v", n.input,
			shape)
	}
	if len(input) != values(shape) {
		return nil, nil, fmt.Errorf("the net takes %d values, not %d", values(shape), len(input))
	}
	n.mu.Lock()
	defer n.mu.Unlock()
	if !n.open {
		return nil, nil, errors.New("the net is closed")
	}
	blob := gocv.NewMatWithSizes(shape[:], gocv.MatTypeCV32F)
	defer blob.Close()
	v, err := blob.DataPtrFloat32()
	if err != nil {
		return nil, nil, err
	}
	copy(v, input)
	n.net.SetInput(blob, "")
	out := n.net.Forward("")
	defer out.Close()
	y, err := out.DataPtrFloat32()
	if err != nil {
		return nil, nil, err
	}
	return slices.Clone(y), out.Size(), nil
}

// Close frees the net; a later Run gives an error. It may be called twice.
func (n *Net) Close() error {
	n.mu.Lock()
	defer n.mu.Unlock()
	if !n.open {
		return nil
	}
	n.open = false
	return n.net.Close()
}

func values(shape [4]int) int { return shape[0] * shape[1] * shape[2] * shape[3] }
