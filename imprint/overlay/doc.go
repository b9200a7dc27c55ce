// Package overlay draws a measurement on its photo: the plane's grid, the
// marks, both centres with their uncertainty ellipses, the line between them
// with its length, what was left out and why. A measured relief gets contour
// lines, and its section through both deepest points in the strip.
//
// Its opinion: the photo is the witness and the drawing only points at it. So
// nothing solid covers a dent, words stand in a strip under the photo, lines
// are hair-thin with a dark casing, which shows on white paper and on black
// foam alike, and nothing rests on telling red from green: what differs in
// colour differs in shape or in words too. An ellipse of a millimetre is a few
// pixels across, so each centre is shown once more through a loupe, in the
// strip, with a scale beside it.
//
// It draws plain data, a [Scene], and knows nothing of how it was measured.
//
// Pixel convention, as everywhere in sitspan: integer coordinates are pixel
// centres; the centre of the top-left pixel is (0, 0), x to the right, y down.
// The photo's top-left corner is the overlay's.
//
// Out of scope: turning the photo by its EXIF orientation (it comes upright)
// and writing files.
package overlay
