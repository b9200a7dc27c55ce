package net

import (
	"encoding/binary"
	"math"
	"math/rand/v2"
)

// The field numbers below are those of onnx.proto (ONNX IR version 6).

func field(number int, payload []byte) []byte {
	b := binary.AppendUvarint(nil, uint64(number)<<3|2)
	return append(binary.AppendUvarint(b, uint64(len(payload))), payload...)
}

func number(field int, v int64) []byte {
	return binary.AppendUvarint(binary.AppendUvarint(nil, uint64(field)<<3), uint64(v))
}

func joinBytes(parts ...[]byte) (b []byte) {
	for _, p := range parts {
		b = append(b, p...)
	}
	return b
}

// tensorOf is a TensorProto of floats.
func tensorOf(name string, dims []int64, v []float32) []byte {
	var raw []byte
	for _, x := range v {
		raw = binary.LittleEndian.AppendUint32(raw, math.Float32bits(x))
	}
	return rawTensor(name, dims, floats, raw)
}

func rawTensor(name string, dims []int64, kind int64, raw []byte) (b []byte) {
	for _, d := range dims {
		b = append(b, number(tensorDims, d)...)
	}
	b = joinBytes(b, number(tensorType, kind), field(tensorName, []byte(name)))
	if raw != nil {
		b = append(b, field(tensorRaw, raw)...)
	}
	return b
}

// ints is an AttributeProto: name 1, ints 8.
func ints(name string, v ...int64) []byte {
	b := field(1, []byte(name))
	for _, x := range v {
		b = append(b, number(8, x)...)
	}
	return b
}

// word likewise: name 1, s 4.
func word(name, text string) []byte { return joinBytes(field(1, []byte(name)), field(4, []byte(text))) }

// nodeOf is a NodeProto; out is its last name.
func nodeOf(op string, names []string, attributes ...[]byte) (b []byte) {
	last := len(names) - 1
	for _, in := range names[:last] {
		b = append(b, field(1, []byte(in))...)
	}
	b = joinBytes(b, field(2, []byte(names[last])), field(4, []byte(op)))
	for _, a := range attributes {
		b = append(b, field(5, a)...)
	}
	return b
}

// constant is a node whose value are whole numbers, or floats.
func constant(name string, whole []int64, v []float32) []byte {
	t := tensorOf("", nil, v)
	if whole != nil {
		var raw []byte
		for _, x := range whole {
			raw = binary.LittleEndian.AppendUint64(raw, uint64(x))
		}
		t = rawTensor("", nil, integers, raw)
	}
	return nodeOf("Constant", []string{name}, joinBytes(field(1, []byte("value")), field(5, t)))
}

func modelOf(nodes [][]byte, tensors ...[]byte) []byte {
	var graph []byte
	for _, n := range nodes {
		graph = append(graph, field(graphNode, n)...)
	}
	for _, t := range tensors {
		graph = append(graph, field(graphInitializer, t)...)
	}
	return joinBytes(number(1, 6), field(modelGraph, graph))
}

// random are n numbers about 0, with a fixed seed.
func random(n int, seed uint64) []float32 {
	r := rand.New(rand.NewPCG(seed, 0))
	v := make([]float32, n)
	for i := range v {
		v[i] = float32(r.NormFloat64())
	}
	return v
}
