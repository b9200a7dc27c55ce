package cv

import (
	"image"
	"slices"

	"sitspan/calibration"
)

const (
	// seedDistance is the most misread modules a mark may have to be believed
	// on its own: of random clutter, 12 x 4 x 26 / 2^25 = 4 in 100,000 passes.
	// With more, the other marks must agree on its place.
	seedDistance = 1
	// smallMark is the side in px of the searched picture under which a missing
	// mark may have been too small, so that a second look is worth its time.
	smallMark = 40
	// doubtfulBorder is how many border modules may look light before a quad is
	// given up; between this and maxBorderErrors it is measured and read again.
	doubtfulBorder = 8
	// sameEdges is within how many px corners are those of the same four edges.
	sameEdges = 0.5
)

// FindMarks finds the coded marks of the control frame in an upright grey
// picture of up to MaxPixels, measures their corners at full size, and returns
// them in the order of their numbers, each at most once.
//
// Marks are looked for in a reduced picture, then where the marks found say
// the others are. A mirrored picture holds no marks. A picture too small for a
// mark gives none and no error; the error is for a picture that has no pixels,
// too many, or a broken buffer.
func FindMarks(grey *image.Gray) ([]Mark, Diagnostics, error) {
	p, err := greyPlane(grey)
	if err != nil {
		return nil, Diagnostics{}, err
	}
	d := Diagnostics{Reduction: 1, Saturated: saturatedShare(p)}
	if min(p.w, p.h) < minFindSide {
		return nil, d, nil
	}
	s := search{plane: p, d: &d, mirrored: map[int]bool{}}
	if err := s.lookAll(); err != nil {
		return nil, d, err
	}
	return s.report(), d, nil
}

// lookAll looks once, and again for smaller marks where that may show more.
func (s *search) lookAll() error {
	src, scale := s.plane, 1.0
	if max(src.w, src.h) >= halfFrom {
		src, scale = src.halved(), 2
	}
	mat, err := src.mat()
	if err != nil {
		return err
	}
	defer mat.Close()
	s.look(reduce(mat.Mat, searchSide, scale))
	if s.worthAnotherLook(max(s.plane.w, s.plane.h)) {
		s.look(reduce(mat.Mat, retrySide, scale))
	}
	return nil
}

// saturatedShare is the share of pixels at 250 or more, from every 7th.
func saturatedShare(p plane8) float64 {
	n, hit := 0, 0
	for i := 0; i < len(p.pix); i += 7 {
		n++
		if p.pix[i] >= 250 {
			hit++
		}
	}
	return float64(hit) / float64(n)
}

// search is the state of one FindMarks.
type search struct {
	plane   plane8
	d       *Diagnostics
	sighted []sighting // decoded, in the order found
	unread  []refined  // looked like a mark, not decoded
	// dark squares whose edges could not be measured: the steepest rise along their sides
	edgeless [][4]Pixel
	failed   []sighting // decoded, edges not measurable
	layout   layout     // where the marks say the frame is
	// of marks, whose mirror image was read somewhere
	mirrored map[int]bool
}

// sighting is a decoded quad, its corners in the mark's own order.
type sighting struct {
	id, distance int
	refined
}

// look searches a reduced picture, which it closes, and then where marks are missing.
func (s *search) look(r reduced) {
	defer r.mat.Close()
	s.d.Reduction = r.scale
	quads, contours := r.quads()
	s.d.Contours, s.d.Quads = s.d.Contours+contours, s.d.Quads+len(quads)
	for _, a := range s.begin(quads, 2.5*r.scale) {
		if !s.covered(a.quad) && !s.measuredAlready(a.quad, a.tolerance) {
			s.try(a)
		}
	}
	s.layout = locate(s.sighted)
	s.predict()
}

// covered reports whether a quad is a mark that has been decoded already.
func (s *search) covered(q [4]Pixel) bool {
	for _, m := range s.sighted {
		if samePlace(q, m.corners) {
			return true
		}
	}
	return false
}

// measuredAlready reports whether a quad is a place that was measured and holds no mark: from all its corners
// the same edges would be found, and the same modules read inside them.
func (s *search) measuredAlready(q [4]Pixel, tolerance float64) bool {
	within := min(tolerance, coarseShare*shortestSide(q))
	return slices.ContainsFunc(s.unread, func(u refined) bool { return cornersWithin(q, u.corners, within) })
}

// cornersWithin reports whether two quads have the same corners to so many px, whichever they begin with.
func cornersWithin(q, other [4]Pixel, px float64) bool {
	for first := range 4 {
		if farthest(turn(q, first), other) < px {
			return true
		}
	}
	return false
}

// samePlace reports whether two quads have centres within a quarter of a side
// and sides that differ by less than a fifth (payload and border differ by 2/7).
func samePlace(a, b [4]Pixel) bool {
	sa, sb := meanSide(a), meanSide(b)
	return centre(a).Distance(centre(b)) < 0.25*sb && sa > 0.8*sb && sa < 1.2*sb
}

// try reads a quad and measures it if it is a mark. Where the first reading fails it reads once more inside
// the measured edges.
func (s *search) try(a *attempt) {
	q := a.quad
	r, ok := a.read(s.plane)
	if !ok || r.lightBorder > doubtfulBorder {
		return
	}
	s.noteMirrored(r)
	if r.plain() && s.noted(q) {
		return
	}
	m, measured := s.measure(a)
	if measured && (r.distance > 0 || r.lightBorder > maxBorderErrors) {
		if again, ok := readMark(s.plane, m.corners); ok {
			r, q = again, m.corners
			s.noteMirrored(r)
		}
	}
	switch {
	case r.lightBorder > maxBorderErrors:
	case !r.decoded:
		if measured {
			s.noteUnread(m)
		}
	case !measured:
		s.failed = append(s.failed, sighting{r.id, r.distance, refined{corners: turn(q, r.rotation)}})
	default:
		s.sighted = append(s.sighted, sighting{r.id, r.distance, m.turned(r.rotation)})
	}
}

func (s *search) noteMirrored(r reading) {
	for _, id := range r.mirrored {
		s.mirrored[id] = true
	}
}

// measure finds the edges of what was read in a quad. A dark square whose edges could not be measured is left
// at that where it is met again.
func (s *search) measure(a *attempt) (m refined, ok bool) {
	if q, sides := a.onSides(s.plane); !sides || s.isEdgeless(a) {
		return m, false
	} else if m, ok = a.onEdges(s.plane); !ok && a.reading.plain() {
		s.edgeless = append(s.edgeless, q)
	}
	return m, ok
}

// isEdgeless reports whether a quad with sides is a dark square whose edges could not be measured before.
func (s *search) isEdgeless(a *attempt) bool {
	again := func(e [4]Pixel) bool { return cornersWithin(a.steepest, e, sameEdges) }
	return a.reading.plain() && slices.ContainsFunc(s.edgeless, again)
}

// noted reports whether a place that looks like a mark is remembered.
func (s *search) noted(q [4]Pixel) bool {
	return slices.ContainsFunc(s.unread, func(u refined) bool { return samePlace(q, u.corners) })
}

// noteUnread remembers a place that looks like a mark, once.
func (s *search) noteUnread(r refined) {
	if !s.noted(r.corners) {
		s.unread = append(s.unread, r)
	}
}

// turn puts corners into the mark's own order: see calibration.Decode.
func turn(q [4]Pixel, rotation int) (t [4]Pixel) {
	for i := range 4 {
		t[i] = q[(i+rotation)%4]
	}
	return t
}

// turned likewise, with the uncertainties.
func (r refined) turned(rotation int) refined {
	t := r
	t.corners = turn(r.corners, rotation)
	for i := range 4 {
		t.u[i] = r.u[(i+rotation)%4]
	}
	return t
}

// worthAnotherLook reports whether a larger picture may show more marks.
func (s *search) worthAnotherLook(longSide int) bool {
	if longSide <= searchSide {
		return false
	}
	best := s.best()
	if len(best) < 4 {
		return true
	}
	side := 0.0
	for _, m := range best {
		side += meanSide(m.corners) / float64(len(best))
	}
	return len(best) < len(calibration.ControlFrame.Marks) && side < smallMark*s.d.Reduction
}

// best picks at most one sighting for each mark: one that agrees with the
// layout, else, without a layout, a sure one; then the better measured.
func (s *search) best() map[int]sighting {
	chosen := map[int]sighting{}
	for _, m := range s.sighted {
		if s.layout.known && !s.layout.agrees(m) || !s.layout.known && m.distance > seedDistance {
			continue
		}
		old, taken := chosen[m.id]
		if !taken || m.distance < old.distance || m.distance == old.distance && sum(m.u) < sum(old.u) {
			chosen[m.id] = m
		}
	}
	return chosen
}

func sum(v [4]float64) float64 { return v[0] + v[1] + v[2] + v[3] }

// report turns what was found into marks and completes the diagnostics.
func (s *search) report() []Mark {
	best := s.best()
	shift := measureShift(s.plane, best)
	s.d.EdgeShift, s.d.EdgeShiftU = shift.d, shift.u
	wide := haloWidth(best)
	var marks []Mark
	blur := 0.0
	for _, m := range calibration.ControlFrame.Marks {
		b, ok := best[m.ID]
		if !ok {
			continue
		}
		b.refined = b.overlapped(wide).widened(shift.d)
		marks = append(marks, Mark{m.ID, b.corners, b.u, b.contrast, b.blur, b.distance})
		blur += b.blur
	}
	s.countRest(best)
	n := len(marks)
	if n == 0 {
		n = len(s.unread)
		for _, u := range s.unread {
			blur += u.blur
		}
	}
	if n > 0 {
		s.d.Blur = blur / float64(n)
	}
	return marks
}

// countRest counts the places left over that are not under a reported mark.
func (s *search) countRest(best map[int]sighting) {
	missing := map[int]bool{}
	for _, f := range s.failed {
		if _, ok := best[f.id]; !ok {
			missing[f.id] = true
		}
	}
	s.d.Unrefined, s.d.Mirrored = len(missing), len(s.mirrored)
	var sides []float64
	for _, u := range s.unread {
		free := true
		for _, b := range best {
			free = free && !samePlace(u.corners, b.corners)
		}
		if free {
			sides = append(sides, meanSide(u.corners))
		}
	}
	s.d.Undecoded, s.d.Alike = len(sides), alike(sides)
}

// alike is the largest number of lengths within a third of the shortest of
// them.
func alike(lengths []float64) (most int) {
	slices.Sort(lengths)
	for i, shortest := range lengths {
		n := 0
		for _, l := range lengths[i:] {
			if l < shortest*4/3 {
				n++
			}
		}
		most = max(most, n)
	}
	return most
}
