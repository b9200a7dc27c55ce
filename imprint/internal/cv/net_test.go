package cv

import (
	"encoding/binary"
	"math"
	"sync"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// The field numbers below are those of onnx.proto (ONNX IR version 6).

func field(number int, payload []byte) []byte {
	b := binary.AppendUvarint(nil, uint64(number)<<3|2)
	return append(binary.AppendUvarint(b, uint64(len(payload))), payload...)
}

func number(field int, v int64) []byte {
	return binary.AppendUvarint(binary.AppendUvarint(nil, uint64(field)<<3), uint64(v))
}

func join(parts ...[]byte) (b []byte) {
	for _, p := range parts {
		b = append(b, p...)
	}
	return b
}

// tensor is a TensorProto: dims 1, data_type 2 (1 = float), name 8, raw_data 9.
func tensor(name string, dims []int64, v []float32) []byte {
	var b, raw []byte
	for _, d := range dims {
		b = append(b, number(1, d)...)
	}
	for _, x := range v {
		raw = binary.LittleEndian.AppendUint32(raw, math.Float32bits(x))
	}
	return join(b, number(2, 1), field(8, []byte(name)), field(9, raw))
}

// ints is an AttributeProto: name 1, ints 8, type 20 (7 = INTS).
func ints(name string, v ...int64) []byte {
	b := field(1, []byte(name))
	for _, x := range v {
		b = append(b, number(8, x)...)
	}
	return append(b, number(20, 7)...)
}

// valueInfo is a ValueInfoProto of floats: name 1, type 2 { tensor_type 1 {
// elem_type 1, shape 2 { dim 1 { dim_value 1 }}}}.
func valueInfo(name string, dims ...int64) []byte {
	var shape []byte
	for _, d := range dims {
		shape = append(shape, field(1, number(1, d))...)
	}
	return join(field(1, []byte(name)), field(2, field(1, join(number(1, 1), field(2, shape)))))
}

// smallNet is a model of one 3 x 3 convolution with padding 1, then a ReLU.
// NodeProto: input 1, output 2, name 3, op_type 4, attribute 5. GraphProto:
// node 1, name 2, initializer 5, input 11, output 12. ModelProto: ir_version 1,
// graph 7, opset_import 8 { version 2 }.
func smallNet(weights []float32, bias float32, h, w int64) []byte {
	conv := join(field(1, []byte("x")), field(1, []byte("w")), field(1, []byte("b")), field(2, []byte("c")),
		field(3, []byte("conv")), field(4, []byte("Conv")),
		field(5, ints("kernel_shape", 3, 3)), field(5, ints("pads", 1, 1, 1, 1)), field(5, ints("strides", 1, 1)))
	relu := join(field(1, []byte("c")), field(2, []byte("y")), field(3, []byte("relu")),
		field(4, []byte("Relu")))
	graph := join(field(1, conv), field(1, relu), field(2, []byte("g")),
		field(5, tensor("w", []int64{1, 1, 3, 3}, weights)), field(5, tensor("b", []int64{1}, []float32{bias})),
		field(11, valueInfo("x", 1, 1, h, w)), field(12, valueInfo("y", 1, 1, h, w)))
	return join(number(1, 6), field(7, graph), field(8, number(2, 11)))
}

// The reference is the convolution written out.
func TestNetConvolves(t *testing.T) {
	const h, w = 4, 5
	weights, bias := []float32{1, -2, 3, 0.5, 2, -1, 0, 1, -3}, float32(-0.25)
	n, err := NewNet(smallNet(weights, bias, h, w), [4]int{1, 1, h, w})
	require.NoError(t, err)
	defer n.Close()
	in := make([]float32, h*w)
	for i := range in {
		in[i] = float32(i*i%7) - 2
	}
	var want []float32
	for y := range h {
		for x := range w {
			s := bias
			for k, c := range weights {
				if yy, xx := y+k/3-1, x+k%3-1; yy >= 0 && xx >= 0 && yy < h && xx < w {
					s += c * in[yy*w+xx]
				}
			}
			want = append(want, max(0, s))
		}
	}
	var wait sync.WaitGroup
	for range 4 { // from several goroutines
		wait.Go(func() {
			out, shape, err := n.Run(in, [4]int{1, 1, h, w})
			assert.NoError(t, err)
			assert.Equal(t, []int{1, 1, h, w}, shape)
			assert.InDeltaSlice(t, want, out, 1e-5)
		})
	}
	wait.Wait()
}

func TestNetRefusesWhatWouldEndTheProcess(t *testing.T) {
	good := smallNet(make([]float32, 9), 0, 4, 5)
	n, err := NewNet(good, [4]int{1, 1, 4, 5})
	require.NoError(t, err)
	_, _, err = n.Run(make([]float32, 20), [4]int{1, 2, 2, 5})
	assert.Error(t, err, "another shape")
	_, _, err = n.Run(make([]float32, 19), [4]int{1, 1, 4, 5})
	assert.Error(t, err, "too few values")
	require.NoError(t, n.Close())
	require.NoError(t, n.Close())
	_, _, err = n.Run(make([]float32, 20), [4]int{1, 1, 4, 5})
	assert.Error(t, err, "closed")

	for name, b := range map[string][]byte{
		"nothing": nil, "text": []byte("version https://git-lfs.github.com/spec/v1\n"),
		"cut short": good[:len(good)-9], "no graph": number(1, 6), "page": []byte("<!DOCTYPE html><html></html>"),
	} {
		_, err := NewNet(b, [4]int{1, 1, 4, 5})
		assert.Error(t, err, name)
	}
	for _, shape := range [][4]int{{}, {1, 1, -4, 5}, {1 << 20, 1 << 20, 1 << 20, 1 << 20}} {
		_, err := NewNet(good, shape)
		assert.Error(t, err, "%v", shape)
	}
}
