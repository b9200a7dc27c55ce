package cv

import (
	"slices"

	"sitspan/imprint/internal/cores"
)

// attempt is a quad that may be off by tolerance px, and what is found in it: each step is done when it is
// first asked for. None depends on what else was found in the picture.
type attempt struct {
	quad      [4]Pixel
	tolerance float64

	wasRead, legible bool
	reading          reading

	wasSought, sides bool
	steepest         [4]Pixel

	wasRefined, edges bool
	refined           refined
}

// read is what the modules say.
func (a *attempt) read(p plane8) (reading, bool) {
	if !a.wasRead {
		a.wasRead = true
		a.reading, a.legible = readMark(p, a.quad)
	}
	return a.reading, a.legible
}

// onSides is the quad at the steepest rise along its sides.
func (a *attempt) onSides(p plane8) ([4]Pixel, bool) {
	if !a.wasSought {
		a.wasSought = true
		a.steepest, a.sides = steepestSides(p, a.quad, a.tolerance)
	}
	return a.steepest, a.sides
}

// onEdges is the quad measured on its edges; it was read, and has sides.
func (a *attempt) onEdges(p plane8) (refined, bool) {
	if !a.wasRefined {
		a.wasRefined = true
		a.refined, a.edges = refineSteepest(p, a.steepest, a.reading.black)
	}
	return a.refined, a.edges
}

// begin reads quads on all cores, and measures the first of each place that may hold a mark. What is left of
// them is done in their order, since it depends on what was found before.
func (s *search) begin(quads [][4]Pixel, tolerance float64) []*attempt {
	var all, first []*attempt
	for _, q := range quads {
		if !s.covered(q) && !s.measuredAlready(q, tolerance) {
			all = append(all, &attempt{quad: q, tolerance: tolerance})
		}
	}
	cores.Each(len(all), func(i int) { all[i].read(s.plane) })
	for _, a := range all {
		met := func(b *attempt) bool { return samePlace(a.quad, b.quad) }
		if a.legible && a.reading.lightBorder <= doubtfulBorder && !(a.reading.plain() && s.noted(a.quad)) &&
			!slices.ContainsFunc(first, met) {
			first = append(first, a)
		}
	}
	cores.Each(len(first), func(i int) {
		if _, sides := first[i].onSides(s.plane); sides && !s.isEdgeless(first[i]) {
			first[i].onEdges(s.plane)
		}
	})
	return all
}
