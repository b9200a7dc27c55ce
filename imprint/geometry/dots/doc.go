// Package dots finds the felt-pen dots of a pad in a photo of it.
//
// Its opinion: a dot is a round spot of one size class, darker or lighter than what surrounds it by a factor,
// whatever the light does there. So dots are looked for in the logarithm of the brightness, at the sizes that
// a pen draws, and each is then fitted on the photo's own pixels with its own background, its edge's blur and
// its contrast. Each comes with a standard uncertainty; whether it is the same dot as in another photo is not
// decided here.
//
// What may live here: pictures in, dots out. What may not: cameras, other photos, heights.
package dots
