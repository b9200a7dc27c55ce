package relief

import (
	"embed" // the weights travel in the binary
	"encoding/binary"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"math"

	"google.golang.org/protobuf/encoding/protowire"
)

// The nets as they are stored, in ONNX form (opset 11), large ones in parts. train/weights.json has their
// SHA-256 and how they were made. Foam's weights are halves (IEEE 754 binary16), once for a net of one photo
// and its net of several: the latter holds no values of its own.
//
//go:embed train/*.onnx train/*.onnx.?
var files embed.FS

// Manifest is train/weights.json: which recipe, seed and command made the weights.
//
//go:embed train/weights.json
var Manifest []byte

// stored is a file of train, joined where it lies in parts: NAME.0, NAME.1 and so on.
func stored(name string) ([]byte, error) {
	if whole, err := files.ReadFile("train/" + name); !errors.Is(err, fs.ErrNotExist) {
		return whole, err
	}
	var parts []fs.File
	size := int64(0)
	for {
		f, none := files.Open(fmt.Sprintf("train/%s.%d", name, len(parts)))
		if none != nil && len(parts) == 0 {
			return nil, fmt.Errorf("%w: %w", ErrBadWeights, none)
		}
		if none != nil {
			break
		}
		info, err := f.Stat()
		if err != nil {
			return nil, err
		}
		parts, size = append(parts, f), size+info.Size()
	}
	whole := make([]byte, size)
	rest := whole
	for _, f := range parts {
		n, err := io.ReadFull(f, rest)
		if err != nil && !errors.Is(err, io.ErrUnexpectedEOF) {
			return nil, err
		}
		rest = rest[n:]
	}
	return whole, nil
}

// FoamNet is the net that reads one photo of foam, in the form that OpenCV reads.
func FoamNet() ([]byte, error) {
	model, err := stored("foam.onnx")
	if err != nil {
		return nil, err
	}
	return filled(model, nil)
}

// FoamTogetherNet is the net that reads Photos photos of one imprint in foam together.
func FoamTogetherNet() ([]byte, error) {
	single, err := stored("foam.onnx")
	if err != nil {
		return nil, err
	}
	values, err := valuesOf(single)
	if err != nil {
		return nil, err
	}
	model, err := stored("foam-together.onnx")
	if err != nil {
		return nil, err
	}
	return filled(model, values)
}

// InkNet is the net that reads paper. It is stored as it is read.
func InkNet() ([]byte, error) { return stored("ink.onnx") }

// ErrBadWeights says that a stored net is not what it should be.
var ErrBadWeights = errors.New("the net's weights cannot be used")

// The numbers of onnx.proto (ONNX IR version 6): a model's graph, a graph's initializer, and of a tensor its
// element type, its name and its values.
const (
	modelGraph       = 7
	graphInitializer = 5
	tensorType       = 2
	tensorName       = 8
	tensorRaw        = 9
	floatType        = 1
)

// valuesOf are a model's weights as they are stored, by name.
func valuesOf(model []byte) (map[string][]byte, error) {
	values := map[string][]byte{}
	_, err := initializers(model, func(t []byte) (*message, error) {
		name, raw, err := named(t)
		values[name] = raw
		return nil, err
	})
	return values, err
}

// filled is the model with its weights in full: floats made of its own halves, or, where it holds no values,
// of those that go by the same name.
func filled(model []byte, others map[string][]byte) ([]byte, error) {
	whole, err := initializers(model, func(t []byte) (*message, error) {
		name, halves, err := named(t)
		if err != nil {
			return nil, err
		}
		if len(halves) == 0 {
			halves = others[name]
		}
		if len(halves) == 0 {
			return nil, fmt.Errorf("%w: %q has no values", ErrBadWeights, name)
		}
		full, err := rewrite(t, func(number protowire.Number, payload []byte) (*message, bool, error) {
			return nil, number == tensorType || number == tensorRaw, nil
		})
		float := protowire.AppendVarint(protowire.AppendTag(nil, tensorType, protowire.VarintType), floatType)
		full.add(piece{as: float})
		full.addField(tensorRaw, piece{halves: halves})
		return &full, err
	})
	if err != nil {
		return nil, err
	}
	return whole.written(), nil
}

// initializers gives every initializer of a model's graph to f and puts what it returns in its place.
func initializers(model []byte, f func(tensor []byte) (*message, error)) (message, error) {
	inside := func(wanted protowire.Number, f func([]byte) (*message, error)) fieldEdit {
		return func(number protowire.Number, payload []byte) (*message, bool, error) {
			if number != wanted {
				return nil, false, nil
			}
			m, err := f(payload)
			return m, true, err
		}
	}
	return rewrite(model, inside(modelGraph, func(graph []byte) (*message, error) {
		m, err := rewrite(graph, inside(graphInitializer, f))
		return &m, err
	}))
}

// message is a message in pieces: the weights are large, and are to be copied once.
type message struct {
	pieces []piece
	size   int
}

// piece is bytes as they are, or halves that become floats.
type piece struct{ as, halves []byte }

func (m *message) add(pieces ...piece) {
	for _, p := range pieces {
		m.pieces, m.size = append(m.pieces, p), m.size+len(p.as)+2*len(p.halves)
	}
}

// addField adds a field that holds the pieces.
func (m *message) addField(number protowire.Number, pieces ...piece) {
	var body message
	body.add(pieces...)
	head := protowire.AppendVarint(protowire.AppendTag(nil, number, protowire.BytesType), uint64(body.size))
	m.add(piece{as: head})
	m.add(pieces...)
}

func (m *message) written() []byte {
	out := make([]byte, m.size)
	rest := out
	for _, p := range m.pieces {
		rest = rest[copy(rest, p.as):]
		widen(rest, p.halves)
		rest = rest[2*len(p.halves):]
	}
	return out
}

// fieldEdit says of a field whether it is replaced, and by what message; nil leaves it out.
type fieldEdit func(number protowire.Number, payload []byte) (instead *message, replace bool, err error)

// rewrite is a message field by field, edited by f.
func rewrite(in []byte, f fieldEdit) (out message, err error) {
	for len(in) > 0 {
		number, kind, tag := protowire.ConsumeTag(in)
		if tag < 0 {
			return out, fmt.Errorf("%w: %w", ErrBadWeights, protowire.ParseError(tag))
		}
		size := protowire.ConsumeFieldValue(number, kind, in[tag:])
		if size < 0 {
			return out, fmt.Errorf("%w: %w", ErrBadWeights, protowire.ParseError(size))
		}
		var payload []byte
		if kind == protowire.BytesType {
			payload, _ = protowire.ConsumeBytes(in[tag:])
		}
		instead, replace, err := f(number, payload)
		switch {
		case err != nil:
			return out, err
		case replace && instead != nil:
			out.addField(number, instead.pieces...)
		case !replace:
			out.add(piece{as: in[:tag+size]})
		}
		in = in[tag+size:]
	}
	return out, nil
}

// named is a tensor's name, and its values as they are stored.
func named(tensor []byte) (name string, raw []byte, err error) {
	_, err = rewrite(tensor, func(number protowire.Number, payload []byte) (*message, bool, error) {
		switch number {
		case tensorName:
			name = string(payload)
		case tensorRaw:
			raw = payload
		}
		return nil, false, nil
	})
	return name, raw, err
}

// widen turns halves into floats, both with the lower byte first. An exponent's bias is put right by a
// multiplication, which serves the halves below 2^-14, too; there are no infinities among weights.
func widen(out, halves []byte) {
	for len(halves) >= 2 && len(out) >= 4 {
		h := uint32(binary.LittleEndian.Uint16(halves))
		f := math.Float32frombits(h&0x7fff<<13) * 0x1p112
		binary.LittleEndian.PutUint32(out, math.Float32bits(f)|h&0x8000<<16)
		halves, out = halves[2:], out[4:]
	}
}
