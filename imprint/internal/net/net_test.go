package net

import (
	"bytes"
	"encoding/binary"
	"math"
	"sync"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

func open(t *testing.T, model []byte, input [4]int) *Net {
	t.Helper()
	n, err := New(bytes.NewReader(model), nil, input)
	require.NoError(t, err)
	t.Cleanup(func() { assert.NoError(t, n.Close()) })
	return n
}

// written is a convolution of side x side cells written out, in double precision.
func written(in, weights, bias []float32, c, h, w, k, side int, silu bool) (out []float32) {
	for o := range k {
		for y := range h {
			for x := range w {
				sum := float64(bias[o])
				for i := range c {
					for at := range side * side {
						yy, xx := y+at/side-side/2, x+at%side-side/2
						if yy >= 0 && xx >= 0 && yy < h && xx < w {
							sum += float64(weights[(o*c+i)*side*side+at]) * float64(in[(i*h+yy)*w+xx])
						}
					}
				}
				if silu {
					sum /= 1 + math.Exp(-sum)
				}
				out = append(out, float32(sum))
			}
		}
	}
	return out
}

// The reference is the convolution written out, for each loop that this processor can run, and for channels
// and columns that fill no register.
func TestConvolutions(t *testing.T) {
	best := kind
	t.Cleanup(func() { kind = best })
	for _, size := range [][5]int{{1, 4, 5, 1, 3}, {7, 5, 27, 20, 3}, {20, 3, 14, 48, 3}, {33, 4, 3, 23, 1}, {9, 1, 1, 5, 1}} {
		c, h, w, k, side := size[0], size[1], size[2], size[3], size[4]
		weights, bias, in := random(k*c*side*side, 1), random(k, 2), random(c*h*w, 3)
		model := func(silu bool) []byte {
			nodes := [][]byte{nodeOf("Conv", []string{"x", "w", "b", "c"}, ints("strides", 1, 1))}
			if silu {
				nodes = append(nodes, nodeOf("Sigmoid", []string{"c", "s"}), nodeOf("Mul", []string{"c", "s", "y"}))
			}
			return modelOf(nodes, tensorOf("w", []int64{int64(k), int64(c), int64(side), int64(side)}, weights),
				tensorOf("b", []int64{int64(k)}, bias))
		}
		for _, silu := range []bool{false, true} {
			want := written(in, weights, bias, c, h, w, k, side, silu)
			for kind = range best + 1 {
				n := open(t, model(silu), [4]int{1, c, h, w})
				require.Equal(t, 1, len(n.plan.steps), "what follows a convolution is a part of it")
				out, shape, err := n.Run(in, [4]int{1, c, h, w})
				require.NoError(t, err)
				require.Equal(t, []int{1, k, h, w}, shape)
				// 300 products of some 1, each rounded to 2^-24
				require.InDeltaSlice(t, want, out, 5e-5, "%v kind %d silu %v", size, kind, silu)
			}
		}
	}
}

// What stands between convolutions, by ONNX's own definitions of it, on two photos at once and from several
// goroutines: y = (mean of both photos, enlarged from its half) x sigmoid(mean over all cells), joined to x.
func TestTheOtherOperations(t *testing.T) {
	const c, h, w = 3, 4, 6
	slice := func(from int64, names ...string) [][]byte {
		at := names[1]
		return [][]byte{constant(at+"f", []int64{from}, nil), constant(at+"t", []int64{from + 1}, nil),
			constant(at+"a", []int64{0}, nil), constant(at+"s", []int64{1}, nil),
			nodeOf("Slice", []string{names[0], at + "f", at + "t", at + "a", at + "s", at})}
	}
	nodes := [][]byte{nodeOf("AveragePool", []string{"x", "half"}, ints("kernel_shape", 2, 2), ints("strides", 2, 2)),
		constant("twice", nil, []float32{1, 1, 2, 2}), constant("two", nil, []float32{2}),
		nodeOf("Resize", []string{"half", "twice", "large"}, word("mode", "linear"),
			word("coordinate_transformation_mode", "half_pixel"))}
	nodes = append(nodes, slice(0, "large", "l0")...)
	nodes = append(nodes, slice(1, "large", "l1")...)
	nodes = append(nodes, nodeOf("Add", []string{"l0", "l1", "sum"}), nodeOf("Div", []string{"sum", "two", "mid"}),
		nodeOf("Concat", []string{"mid", "mid", "mids"}, ints("axis", 0)),
		nodeOf("GlobalAveragePool", []string{"x", "g"}), nodeOf("Sigmoid", []string{"g", "gate"}),
		nodeOf("Mul", []string{"mids", "gate", "gated"}), nodeOf("Concat", []string{"gated", "x", "y"}, ints("axis", 1)))
	n := open(t, modelOf(nodes), [4]int{2, c, h, w})
	in := random(2*c*h*w, 4)
	at := func(p, i, y, x int) float64 { return float64(in[((p*c+i)*h+y)*w+x]) }
	half := func(p, i, y, x int) float64 {
		y, x = min(max(y, 0), h/2-1), min(max(x, 0), w/2-1)
		return (at(p, i, 2*y, 2*x) + at(p, i, 2*y, 2*x+1) + at(p, i, 2*y+1, 2*x) + at(p, i, 2*y+1, 2*x+1)) / 4
	}
	large := func(p, i, y, x int) float64 {
		fy, fx := (float64(y)+0.5)/2-0.5, (float64(x)+0.5)/2-0.5
		y0, x0 := int(math.Floor(fy)), int(math.Floor(fx))
		fy, fx = fy-float64(y0), fx-float64(x0)
		return (half(p, i, y0, x0)*(1-fx)+half(p, i, y0, x0+1)*fx)*(1-fy) +
			(half(p, i, y0+1, x0)*(1-fx)+half(p, i, y0+1, x0+1)*fx)*fy
	}
	var want []float32
	for p := range 2 {
		for i := range 2 * c {
			gate := 0.0
			for k := range h * w {
				gate += at(p, i%c, k/w, k%w) / (h * w)
			}
			for k := range h * w {
				v := at(p, i%c, k/w, k%w)
				if i < c {
					v = (large(0, i, k/w, k%w) + large(1, i, k/w, k%w)) / 2 / (1 + math.Exp(-gate))
				}
				want = append(want, float32(v))
			}
		}
	}
	var wait sync.WaitGroup
	for range 4 {
		wait.Go(func() {
			for range 3 { // the memory of a run serves the next
				out, shape, err := n.Run(in, [4]int{2, c, h, w})
				assert.NoError(t, err)
				assert.Equal(t, []int{2, 2 * c, h, w}, shape)
				assert.InDeltaSlice(t, want, out, 1e-6)
			}
		})
	}
	wait.Wait()
}

// The halves are those of IEEE 754-2019's binary16 (five bits of exponent less 15, ten of fraction): 1 is
// 3C00, -2 is C000, the least subnormal 2^-24 is 0001. A net without values takes another's.
func TestHalves(t *testing.T) {
	nodes := [][]byte{nodeOf("Conv", []string{"x", "w", "y"})}
	raw := []byte{0x00, 0x3C, 0x00, 0xC0, 0x01, 0x00}
	first := open(t, modelOf(nodes, rawTensor("w", []int64{3, 1, 1, 1}, halves, raw)), [4]int{1, 1, 1, 1})
	second, err := New(bytes.NewReader(modelOf(nodes, rawTensor("w", []int64{3, 1, 1, 1}, halves, nil))), first,
		[4]int{2, 1, 1, 1})
	require.NoError(t, err)
	out, _, err := second.Run([]float32{1, 2}, [4]int{2, 1, 1, 1})
	require.NoError(t, err)
	require.Equal(t, []float32{1, -2, 1. / (1 << 24), 2, -4, 2. / (1 << 24)}, out)
	require.NoError(t, second.Close())
}

func TestRefusals(t *testing.T) {
	size := [4]int{1, 1, 4, 6}
	conv := nodeOf("Conv", []string{"x", "w", "y"})
	w := tensorOf("w", []int64{1, 1, 1, 1}, []float32{1})
	good := modelOf([][]byte{conv}, w)
	n := open(t, good, size)
	_, _, err := n.Run(make([]float32, 24), [4]int{1, 2, 2, 6})
	assert.Error(t, err, "another shape")
	_, _, err = n.Run(make([]float32, 23), size)
	assert.Error(t, err, "too few values")
	require.NoError(t, n.Close())
	_, _, err = n.Run(make([]float32, 24), size)
	assert.Error(t, err, "closed")
	for what, model := range map[string][]byte{
		"nothing":      nil,
		"no values":    modelOf([][]byte{conv}, rawTensor("w", []int64{1, 1, 1, 1}, halves, nil)),
		"few values":   modelOf([][]byte{conv}, tensorOf("w", []int64{1, 2, 1, 1}, []float32{1})),
		"its shape":    modelOf([][]byte{conv}, tensorOf("w", []int64{1, 1, 1, 2}, []float32{1, 1})),
		"no weights":   modelOf([][]byte{conv}),
		"channels":     modelOf([][]byte{conv}, tensorOf("w", []int64{1, 2, 1, 1}, []float32{1, 1})),
		"an operation": modelOf([][]byte{nodeOf("Softplus", []string{"x", "y"})}),
		"a stride":     modelOf([][]byte{nodeOf("Conv", []string{"x", "w", "y"}, ints("strides", 2, 2))}, w),
		"an axis":      modelOf([][]byte{nodeOf("Concat", []string{"x", "x", "y"}, ints("axis", 2))}),
		"sizes": modelOf([][]byte{nodeOf("GlobalAveragePool", []string{"x", "g"}),
			nodeOf("Add", []string{"x", "g", "y"})}),
	} {
		_, err := New(bytes.NewReader(model), nil, size)
		assert.ErrorIs(t, err, ErrModel, what)
	}
	for end := range good {
		if end == 2 { // the version alone is a whole message, with no graph
			continue
		}
		_, err := New(bytes.NewReader(good[:end]), nil, size)
		assert.ErrorIs(t, err, ErrModel, "%d bytes of %d", end, len(good))
	}
	_, err = New(bytes.NewReader(good), nil, [4]int{1, 0, 4, 6})
	assert.Error(t, err, "no channels")
}

// FuzzModel holds that no bytes end the process.
func FuzzModel(f *testing.F) {
	f.Add(modelOf([][]byte{nodeOf("Conv", []string{"x", "w", "y"})}, tensorOf("w", []int64{1, 1, 1, 1}, []float32{1})))
	f.Add(binary.AppendUvarint([]byte{modelGraph<<3 | 2}, math.MaxUint64))
	f.Fuzz(func(t *testing.T, model []byte) {
		n, err := New(bytes.NewReader(model), nil, [4]int{1, 1, 2, 2})
		if err != nil {
			return
		}
		_, _, err = n.Run(make([]float32, 4), [4]int{1, 1, 2, 2})
		require.NoError(t, err)
		require.NoError(t, n.Close())
	})
}
