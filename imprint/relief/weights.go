package relief

import (
	_ "embed" // the weights travel in the binary
)

// FoamNet and InkNet are the nets' weights in ONNX form (opset 11). train/weights.json has their SHA-256 and how they were
// made.
var (
	//go:embed train/foam.onnx
	FoamNet []byte
	//go:embed train/ink.onnx
	InkNet []byte
)

// Manifest is train/weights.json: which recipe, seed and command made the weights.
//
//go:embed train/weights.json
var Manifest []byte
