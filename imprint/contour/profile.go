package contour

import "math"

// Profile is a grid of depths cut along the straight line through two places,
// from border to border.
type Profile struct {
	Samples []Sample
	U       []float64 // standard uncertainty of each sample's depth, mm, NaN where not known; nil where none is
	A, B    float64   // the two places along it, mm
}

// ProfileThrough cuts a grid of depths, and of their standard uncertainties
// where u is not empty, at steps of at most a distance in mm; ok is false where
// the two places are one, or one is outside.
func ProfileThrough(depth Grid, u []float64, a, b Point, step float64) (p Profile, ok bool) {
	from, to, ok := depth.Through(a, b)
	if !ok {
		return p, false
	}
	p.Samples = depth.Section(from, to, step)
	p.A, p.B = math.Hypot(a.X-from.X, a.Y-from.Y), math.Hypot(b.X-from.X, b.Y-from.Y)
	depth.Z = u
	for _, s := range depth.Section(from, to, step) {
		p.U = append(p.U, s.Z)
	}
	return p, len(p.Samples) > 0
}

// Length is the whole length in mm.
func (p Profile) Length() float64 { return p.Samples[len(p.Samples)-1].Along }

// Band is 2 u in mm at a sample, 0 where it is not known.
func (p Profile) Band(i int) float64 {
	if i >= len(p.U) || !(p.U[i] > 0) {
		return 0
	}
	return 2 * p.U[i]
}

// DepthAt is the depth in mm at a place along the profile, that of the nearest
// sample.
func (p Profile) DepthAt(along float64) float64 {
	n := len(p.Samples) - 1
	k := math.Round(along / p.Length() * float64(n))
	return p.Samples[int(math.Max(0, math.Min(float64(n), k)))].Z
}

// mostBand is how far in mm the band of uncertainty may widen a profile's range
// of depths; where it is wider it is cut.
const mostBand = 2

// Range are the depths in mm to be shown: 0, and the profile with its band. It
// is empty where no depth is known.
func (p Profile) Range() (top, bottom float64) {
	for i, s := range p.Samples {
		if finite(s.Z) {
			wide := math.Min(mostBand, p.Band(i))
			top, bottom = math.Min(top, s.Z-wide), math.Max(bottom, s.Z+wide)
		}
	}
	return top, bottom
}

// exaggerations are how many times as large as its length a profile's depth is
// drawn.
var exaggerations = []float64{10, 5, 3, 2, 1}

// Exaggeration is the largest of 10, 5, 3, 2 and 1 for which the profile, drawn on
// a width, is no taller than a height in the same unit; 1 where none is.
func (p Profile) Exaggeration(width, height float64) float64 {
	top, bottom := p.Range()
	for _, times := range exaggerations {
		if times*(bottom-top)*width/p.Length() <= height {
			return times
		}
	}
	return 1
}
