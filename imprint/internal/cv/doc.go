// Package cv is the only place in sitspan that knows OpenCV: it finds the
// coded marks of the control frame in a photo, samples a photo on a grid of
// pixel coordinates, and runs a small neural net. Pictures and slices go in,
// slices and plain structures come out; no gocv Mat leaves the package.
//
// Its opinion: a coded mark is a measuring instrument, so each corner comes
// with a standard uncertainty taken from the scatter of the edges that made
// it, and a corner that cannot be measured is not reported at all. A mark is
// located by lines fitted to its four black-to-white edges, because a blurred
// edge stays where it was while a blurred corner retreats inward. So does a
// sharpened one: its halo is fitted (halo.go), and what the halos of neighbouring
// modules add to it is taken off (surround.go).
//
// An OpenCV exception ends the process and recover cannot stop it. Every input
// is therefore checked in guard.go before any call, and a value that fails
// there comes back as an ordinary error.
//
// Pixel convention: the centre of the top-left pixel is (0, 0); x to the
// right, y down; lengths in px of the full-size upright picture.
package cv
