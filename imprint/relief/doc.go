// Package relief says where the two deepest points of an imprint lie, from the rectified picture of the
// frame's window.
//
// Its opinion: under raking light the darkest spot is not the deepest point but the wall that faces away from
// the lamp, so the centre is a regression learned on rendered reliefs (the net, whose weights, recipe and
// training lie in train/), and the physics stays explicit beside it: parallax and budget, in package spacing.
//
// This package holds what goes into the net ([Input]) and what comes out of it ([Read]); running it is the
// caller's affair, so nothing here needs OpenCV. Both media share the contract: foam.onnx reads dents,
// ink.onnx reads marks on paper.
//
// Units: mm in the frame's axes (origin at the window's centre, x right, y down), linear light in any unit,
// natural logs.
package relief
