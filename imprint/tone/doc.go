// Package tone finds what a phone's local tone did to the frame's white and black, and takes it off again.
//
// A phone brightens what has dark surroundings and darkens what has bright ones, so a white card leaves a
// halo on the pad that it frames. On the card the halo shows on what is known to be even: its white, and the
// black of its marks. There it is fitted, with its uncertainty; where it is not beyond doubt, nothing is
// found and nothing is changed.
//
// What may live here: surroundings, laws of local tone, their fit. What may not: where the card's white lies,
// a window, a net.
//
// Units: levels are sRGB-encoded, from 0 to 1; places on the frame in mm, in the picture in px.
package tone
