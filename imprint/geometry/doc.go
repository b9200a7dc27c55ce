// Package geometry finds the relief of a dotted pad from several photos of it, and the two deepest points, by
// geometry alone.
//
// Its opinion: where a pad shows something that can be recognised from two sides, no lamp, no pad and no net
// needs to be known. A dot seen in two photos lies where the two lines of sight meet. The frame's marks say
// where the cameras stood, the dots say how the pad lies, and all of it is adjusted at once (package bundle).
// A smooth surface through the dots, its smoothness chosen by the dots themselves, has the two deepest points
// (package surface). Their uncertainty is that of the surface: flat ground has no deepest point, and gets a
// wide interval.
//
// What may live here: which dot is which, and putting the parts together. What may not: nets, brightness
// other than a dot's own contrast, the print's scale, the width of a saddle.
package geometry
