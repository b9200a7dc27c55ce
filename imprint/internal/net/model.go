package net

import (
	"bufio"
	"encoding/binary"
	"errors"
	"fmt"
	"io"
	"math"

	"google.golang.org/protobuf/encoding/protowire"
)

// ErrModel says that a model cannot be used.
var ErrModel = errors.New("the net cannot be used")

// The numbers of onnx.proto (ONNX IR version 6): a model's graph; a graph's nodes and initializers; of a
// tensor its dimensions, element type, name and values, the kinds of elements.
const (
	modelGraph       = 7
	graphNode        = 1
	graphInitializer = 5

	tensorDims, tensorType, tensorName, tensorRaw = 1, 2, 8, 9

	floats, integers, halves = 1, 7, 10
)

// node is one operation of a graph.
type node struct {
	op      string
	in, out []string
	ints    map[string][]int64
	words   map[string]string
	value   *tensor // of a constant
}

// tensor is a constant or a set of weights, its values as they are stored.
type tensor struct {
	name string
	dims []int
	kind uint64
	raw  []byte
}

// size is how many values the tensor's dimensions promise, or -1.
func (t *tensor) size() int {
	n := 1
	for _, d := range t.dims {
		if d < 0 || d > math.MaxInt32 || n > math.MaxInt32/max(d, 1) {
			return -1
		}
		n *= d
	}
	return n
}

// readModel gives each node of a model's graph, and each of its initializers, to visit. The initializer's
// bytes are good during the call only.
func readModel(r io.Reader, visitNode func(node) error, visitTensor func(tensor) error) error {
	d := &decoder{r: bufio.NewReaderSize(r, 1<<16)}
	graph := false
	err := d.fields(math.MaxInt64, func(number protowire.Number, size int64) error {
		if number != modelGraph {
			return d.skip(size)
		}
		graph = true
		return d.fields(size, func(number protowire.Number, size int64) error {
			switch number {
			case graphNode, graphInitializer:
				body, err := d.bytes(size)
				if err != nil {
					return err
				}
				if number == graphNode {
					n, err := parseNode(body)
					return errors.Join(err, visitNode(n))
				}
				t, err := parseTensor(body)
				return errors.Join(err, visitTensor(t))
			}
			return d.skip(size)
		})
	})
	if err == nil && !graph {
		err = fmt.Errorf("%w: it has no graph", ErrModel)
	}
	return err
}

// decoder reads messages of a protocol buffer from a stream, large fields into one buffer.
type decoder struct {
	r   *bufio.Reader
	at  int64
	buf []byte
}

// mostBytes bounds a field.
const mostBytes = 1 << 26

// fields calls visit for each field with a length in the next size bytes, or to the end; visit takes the
// field's bytes.
func (d *decoder) fields(size int64, visit func(number protowire.Number, size int64) error) error {
	for end := d.at + min(size, math.MaxInt64-d.at); d.at < end; {
		tag, err := d.varint()
		if err == io.EOF && end == math.MaxInt64 {
			return nil
		}
		if err != nil {
			return cut(err)
		}
		number, kind := protowire.DecodeTag(tag)
		switch kind {
		case protowire.VarintType:
			_, err = d.varint()
		case protowire.BytesType:
			var n uint64
			if n, err = d.varint(); err == nil {
				if n > mostBytes && number != modelGraph || n > math.MaxInt32 || end-d.at < int64(n) {
					return cut(io.ErrUnexpectedEOF)
				}
				err = visit(number, int64(n))
			}
		default:
			return fmt.Errorf("%w: a field of an unknown kind", ErrModel)
		}
		if err != nil {
			return cut(err)
		}
	}
	return nil
}

// cut turns the end of the bytes into an error that says so.
func cut(err error) error {
	if err == io.EOF || err == io.ErrUnexpectedEOF {
		return fmt.Errorf("%w: it is cut short", ErrModel)
	}
	return err
}

func (d *decoder) varint() (uint64, error) {
	v, err := binary.ReadUvarint(counting{d})
	return v, err
}

// counting reads bytes and counts them.
type counting struct{ *decoder }

func (c counting) ReadByte() (byte, error) {
	b, err := c.r.ReadByte()
	if err == nil {
		c.at++
	}
	return b, err
}

func (d *decoder) skip(size int64) error {
	n, err := io.CopyN(io.Discard, d.r, size)
	d.at += n
	return err
}

func (d *decoder) bytes(size int64) ([]byte, error) {
	if int64(cap(d.buf)) < size {
		d.buf = make([]byte, size)
	}
	n, err := io.ReadFull(d.r, d.buf[:size])
	d.at += int64(n)
	return d.buf[:size], err
}

// each calls visit for each field of a whole message.
func each(m []byte, visit func(number protowire.Number, v uint64, body []byte) error) error {
	for len(m) > 0 {
		number, kind, tag := protowire.ConsumeTag(m)
		if tag < 0 {
			return fmt.Errorf("%w: %w", ErrModel, protowire.ParseError(tag))
		}
		size := protowire.ConsumeFieldValue(number, kind, m[tag:])
		if size < 0 {
			return fmt.Errorf("%w: %w", ErrModel, protowire.ParseError(size))
		}
		var v uint64
		var body []byte
		switch kind {
		case protowire.VarintType:
			v, _ = protowire.ConsumeVarint(m[tag:])
		case protowire.BytesType:
			body, _ = protowire.ConsumeBytes(m[tag:])
		}
		if err := visit(number, v, body); err != nil {
			return err
		}
		m = m[tag+size:]
	}
	return nil
}

// NodeProto: input 1, output 2, op_type 4, attribute 5.
func parseNode(m []byte) (n node, err error) {
	n.ints, n.words = map[string][]int64{}, map[string]string{}
	err = each(m, func(number protowire.Number, _ uint64, body []byte) error {
		switch number {
		case 1:
			n.in = append(n.in, string(body))
		case 2:
			n.out = append(n.out, string(body))
		case 4:
			n.op = string(body)
		case 5:
			return n.attribute(body)
		}
		return nil
	})
	return n, err
}

// AttributeProto: name 1, i 3, s 4, t 5, ints 8.
func (n *node) attribute(m []byte) error {
	var name, word string
	var list []int64
	err := each(m, func(number protowire.Number, v uint64, body []byte) error {
		switch number {
		case 1:
			name = string(body)
		case 3:
			list = append(list, int64(v))
		case 4:
			word = string(body)
		case 5:
			t, err := parseTensor(body)
			t.raw = append([]byte(nil), t.raw...)
			n.value = &t
			return err
		case 8:
			if body == nil {
				list = append(list, int64(v))
			}
			for len(body) > 0 {
				v, size := protowire.ConsumeVarint(body)
				if size < 0 {
					return fmt.Errorf("%w: %w", ErrModel, protowire.ParseError(size))
				}
				list, body = append(list, int64(v)), body[size:]
			}
		}
		return nil
	})
	n.ints[name], n.words[name] = list, word
	return err
}

func parseTensor(m []byte) (t tensor, err error) {
	err = each(m, func(number protowire.Number, v uint64, body []byte) error {
		switch number {
		case tensorDims:
			if body == nil {
				t.dims = append(t.dims, int(v))
			}
			for len(body) > 0 {
				v, size := protowire.ConsumeVarint(body)
				if size < 0 {
					return fmt.Errorf("%w: %w", ErrModel, protowire.ParseError(size))
				}
				t.dims, body = append(t.dims, int(v)), body[size:]
			}
		case tensorType:
			t.kind = v
		case tensorName:
			t.name = string(body)
		case tensorRaw:
			t.raw = body
		}
		return nil
	})
	return t, err
}
