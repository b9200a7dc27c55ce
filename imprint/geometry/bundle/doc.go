// Package bundle finds, from several photos of one scene, where each was taken from and where what they show
// lies: the bundle adjustment of photogrammetry.
//
// Its opinion: what is known is an observation with its uncertainty, and what is not known is an unknown. The
// corners of the frame's marks are control points: their places on the frame are given, their heights are
// not, since a card bows. A focal length from a file is one more observation. What the photos show of the pad
// are tie points, of which nothing is known but that several photos show them. One robust least-squares
// problem holds all of it, and its covariance is half of the answer.
//
// Axes: the frame's, mm: x to the right, y down, z into the pad, so that a dent has positive z; a camera
// stands at negative z. Pixels: of the upright picture; integers are pixel centres. A camera turns the
// frame's axes into its own (x right, y down, z forward).
//
// What may live here: cameras, points, residuals, covariance. What may not: pictures, dots, surfaces, the
// spacing.
package bundle
