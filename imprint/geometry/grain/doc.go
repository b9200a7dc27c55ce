// Package grain recognises a pad's own grain, weave, print or stains from photo to photo, where it has any.
//
// Its opinion: what a patch of the pad looks like is compared only after its own surroundings are taken off
// and their strength is taken out, so that no lamp counts. A patch is a small plane in space, with a depth
// and two slopes; the right one makes all photos show the same (patches as in Barnes and others' PatchMatch,
// ACM Trans. Graphics 28 (2009) 24, and Bleyer and others' slanted windows, BMVC 2011; pages from memory, the
// papers settle them). What no neighbour bears out is left out: a pad without grain gives nothing, and that
// is the right answer.
//
// Between the dots of a dotted pad the same is asked of smaller patches that take the shape of the surface
// known so far.
//
// What may live here: rasters and first cameras in, points that several photos show out. What may not:
// heights as results; these are for the adjustment.
package grain
