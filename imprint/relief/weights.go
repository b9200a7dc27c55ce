package relief

import (
	"embed" // the weights travel in the binary
	"errors"
	"fmt"
	"io"
	"io/fs"
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

// FoamNet is the net that reads one photo of foam.
func FoamNet() (io.Reader, error) { return stored("foam.onnx") }

// FoamTogetherNet is the net that reads Photos photos of one imprint in foam together, by FoamNet's values.
func FoamTogetherNet() (io.Reader, error) { return stored("foam-together.onnx") }

// InkNet is the net that reads paper.
func InkNet() (io.Reader, error) { return stored("ink.onnx") }

// stored is a file of train, joined where it lies in parts: NAME.0, NAME.1 and so on.
func stored(name string) (io.Reader, error) {
	whole, err := files.Open("train/" + name)
	if !errors.Is(err, fs.ErrNotExist) {
		return whole, err
	}
	var parts []io.Reader
	for {
		f, none := files.Open(fmt.Sprintf("train/%s.%d", name, len(parts)))
		if none != nil && len(parts) > 0 {
			return io.MultiReader(parts...), nil
		}
		if none != nil {
			return nil, none
		}
		parts = append(parts, f)
	}
}
