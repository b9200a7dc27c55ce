// Package net runs the small neural nets that read windows, on the processor.
//
// Its opinion: OpenCV's nets took 40 ms a pass and 70 ms to load, of the 350 that a photo took in all. The
// nets here know a dozen operations, nearly all of it 3 x 3 convolutions, and one register-blocked loop in C
// does those three to four times as fast. A model that holds anything else is an error, and never a crash.
//
// A model is ONNX (opset 11), its weights floats or halves; a model without values takes those of another net,
// by name. Weights are laid out once, straight from the stored bytes, as the loop wants them.
//
// What may live here: the reading of such models, their operations. What may not: what a window or a reading
// is.
package net
