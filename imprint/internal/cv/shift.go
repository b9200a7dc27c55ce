package cv

import (
	"math"
	"slices"

	"sitspan/calibration"
)

// A printed edge is not seen where it was meant to be: ink spreads, and a
// blur that happens in linear light is looked at through a camera's tone
// curve, which carries a bright side over a dark one. Both move every edge of
// a picture by nearly the same amount across itself, and a shift left in the
// corners is taken for lens distortion. The modules show how large it is:
// black ones come out too narrow and white ones too wide.
//
// Let S be the mark's true side and d the creep of white into black. The
// measured side runs from d to S - d. The boundary k modules from the left
// lies at k S/7 - d where it goes from black to white, and at k S/7 + d where
// it goes from white to black, and is expected at d + (S - 2d) k/7. So
//
//	found - expected = d (p - 1 + 2k/7) + c,  p = -1 black to white, +1 white to black
//
// with c a displacement of all boundaries alike, as a printer's raster makes
// it, kept apart for the mark's two axes. d and the two c are fitted to all
// boundaries of all marks.

const (
	// shiftClearance is the least module side in blurs (sigma): nearer, the
	// edges on either side of a module disturb one another.
	shiftClearance = 4.5
	// minShiftEdges is the least number of boundaries for an estimate.
	minShiftEdges = 40
)

// boundary is one boundary between two modules that differ.
type boundary struct {
	axis   int     // 0 across the mark, 1 down
	weight float64 // p - 1 + 2k/7
	offset float64 // found - expected, px toward higher k
}

// edgeShift is the creep of white into black in px with its standard
// uncertainty, from n boundaries.
type edgeShift struct {
	d, u float64
	n    int
}

// measureShift estimates the shift from the inside of the marks.
func measureShift(p plane8, marks map[int]sighting) edgeShift {
	var found []boundary
	for _, m := range calibration.ControlFrame.Marks {
		if s, ok := marks[m.ID]; ok && meanSide(s.corners)/markSide > shiftClearance*s.blur {
			found = boundaries(p, m, s, found)
		}
	}
	if len(found) < minShiftEdges {
		return edgeShift{n: len(found)}
	}
	return fitShift(found)
}

// boundaries appends those of one mark, found on the mean profile over the
// middle 0.7 of a module's length.
func boundaries(p plane8, m calibration.Mark, s sighting, found []boundary) []boundary {
	t := newFromUnitSquare(s.corners)
	at := func(axis int, along, k float64) Pixel {
		if axis == 0 {
			return t.apply(k/markSide, along/markSide)
		}
		return t.apply(along/markSide, k/markSide)
	}
	for axis := range 2 {
		around := surroundOf(m, s, axis)
		for lane := 1; lane < markSide-1; lane++ {
			for k := 1; k < markSide; k++ {
				first, second := blackAt(m, axis, lane, k-1), blackAt(m, axis, lane, k)
				if first == second {
					continue
				}
				a, b := at(axis, float64(lane)+0.15, float64(k)), at(axis, float64(lane)+0.85, float64(k))
				light := around.nearBoundary(lane, k, second)
				if n, ok := boundaryOffset(p, a, b, axis, second, s.step, light); ok {
					polarity := -1.0
					if second {
						polarity = 1
					}
					found = append(found, boundary{axis, polarity - 1 + 2*float64(k)/markSide, n})
				}
			}
		}
	}
	return found
}

// surroundOf is the mark as seen along an axis, the axis running across.
func surroundOf(m calibration.Mark, s sighting, axis int) surround {
	q := s.corners
	wide, high := (q[0].Distance(q[1])+q[3].Distance(q[2]))/2, (q[1].Distance(q[2])+q[0].Distance(q[3]))/2
	if axis == 1 {
		wide, high = high, wide
	}
	a := surround{across: wide / markSide, along: high / markSide, edgeShape: s.step.edgeShape}
	for lane := range a.black {
		for k := range a.black[lane] {
			a.black[lane][k] = blackAt(m, axis, lane, k)
		}
	}
	return a
}

// nearBoundary is the light near the boundary before the k-th module of a
// lane, n px from it toward its white side; nil where no surround is needed.
func (m surround) nearBoundary(lane, k int, darkAfter bool) lightAt {
	if !m.needed() {
		return nil
	}
	var row shares
	for _, place := range [3]float64{0.2, 0.5, 0.8} {
		part := m.shares((float64(lane)+place)*m.along, m.along)
		for i := range part {
			for j := range part[i] {
				row[i][j] += part[i][j] / 3
			}
		}
	}
	return func(n float64) float64 {
		if darkAfter {
			n = -n
		}
		return m.light(m.shares(float64(k)*m.across+n, m.across), row)
	}
}

// blackAt says whether the k-th module of a row (axis 0) or column is black.
func blackAt(m calibration.Mark, axis, lane, k int) bool {
	if axis == 0 {
		return m.Black(lane, k)
	}
	return m.Black(k, lane)
}

// boundaryOffset locates the boundary near the stretch a to b and returns how
// far it lies toward higher k, px.
func boundaryOffset(p plane8, a, b Pixel, axis int, darkAfter bool, known erfStep, light lightAt) (
	n float64, ok bool,
) {
	// Outward of a to b is toward higher k for a stretch that runs down (axis
	// 0), toward lower k for one that runs right; a profile must rise outward.
	flip := (axis == 1) != darkAfter
	if flip {
		a, b = b, a
	}
	n, ok = moduleEdge(p, newEdge(a, b), known, light)
	if darkAfter {
		n = -n
	}
	return n, ok
}

// moduleEdge locates one rising edge on its mean profile, px outward of e.
func moduleEdge(p plane8, e edge, known erfStep, light lightAt) (n float64, ok bool) {
	half := min(max(2, 3*known.sigma), 0.45*e.length/0.7)
	v := make([]float64, profileLength(half))
	for range 2 { // the second time centred on the first's answer
		step := e.profile(p, 0, n, half, e.length, v)
		if light != nil {
			known.takeSurround(v, n-half, step, light)
		}
		m := known.startOn(v, n)
		if !m.fit(v, n-half, step, false) {
			return 0, false
		}
		n = m.at
	}
	return n, true
}

// fitShift solves for the shift and the two displacements by least squares
// with Tukey's biweight (see fitLine).
func fitShift(found []boundary) edgeShift {
	w := make([]float64, len(found))
	for i := range w {
		w[i] = 1
	}
	var x [4]float64
	r := make([]float64, len(found))
	for range 8 {
		var normal [4][5]float64
		for i, b := range found {
			j := b.row()
			for a := range j {
				for c := range j {
					normal[a][c] += w[i] * j[a] * j[c]
				}
				normal[a][4] += w[i] * j[a] * b.offset
			}
		}
		var ok bool
		if x, ok = solveSmall(normal, 3); !ok {
			return edgeShift{n: len(found)}
		}
		for i, b := range found {
			j := b.row()
			r[i] = math.Abs(b.offset - x[0]*j[0] - x[1]*j[1] - x[2]*j[2])
		}
		biweights(r, 1.4826*median(slices.Clone(r)), w)
	}
	return shiftOf(found, x[0], r, w)
}

// row is the boundary's line of the design matrix.
func (b boundary) row() [3]float64 {
	if b.axis == 0 {
		return [3]float64{b.weight, 1, 0}
	}
	return [3]float64{b.weight, 0, 1}
}

// shiftOf attaches the standard uncertainty: the residual scatter over the
// spread of the weights about their mean (the two displacements).
func shiftOf(found []boundary, d float64, r, w []float64) edgeShift {
	var sw, sr, n [2]float64
	for i, b := range found {
		n[b.axis] += w[i]
		sw[b.axis] += w[i] * b.weight
		sr[b.axis] += w[i] * r[i] * r[i]
	}
	spread := 0.0
	for i, b := range found {
		e := b.weight - sw[b.axis]/n[b.axis]
		spread += w[i] * e * e
	}
	s2 := (sr[0] + sr[1]) / (n[0] + n[1] - 3) / biweightVariance
	return edgeShift{d, math.Sqrt(s2 / spread), len(found)}
}

// widened moves the four sides outward by d px: each corner moves along the
// sum of the normals of the sides that meet there.
func (r refined) widened(d float64) refined {
	w := r
	for i := range 4 {
		before, after := newEdge(r.corners[(i+3)%4], r.corners[i]), newEdge(r.corners[i], r.corners[(i+1)%4])
		n1, n2 := before.outward(), after.outward()
		k := d / (1 + n1.X*n2.X + n1.Y*n2.Y)
		w.corners[i] = Pixel{X: r.corners[i].X + k*(n1.X+n2.X), Y: r.corners[i].Y + k*(n1.Y+n2.Y)}
	}
	return w
}

// outward is the unit normal of the edge.
func (e edge) outward() Pixel { return Pixel{X: e.alongY, Y: -e.alongX} }
