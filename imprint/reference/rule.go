package reference

import (
	"errors"
	"image"
	"math"
	"slices"

	"sitspan/imprint/homography"
	"sitspan/imprint/internal/cores"
)

// ErrNoRule says that no millimetre graduation was found.
var ErrNoRule = errors.New("no millimetre graduation was found")

// Rule is a millimetre graduation and the plane that it lies on.
type Rule struct {
	Pose
	// Outline holds the corners in px, clockwise or not, of what the rule covers, as far as its edges are seen.
	Outline [4]homography.Pixel
	// Period is the graduation's in mm: 1 or 0.5.
	Period float64
	// Length is how much of the graduation was read, mm.
	Length float64
	// TiltAcrossU is the standard uncertainty in degrees of the camera's tilt across the rule, which only the
	// graduation lines' own directions tell.
	TiltAcrossU float64
}

func findRule(img *image.Gray, f *field, focal homography.Focal) (*Rule, error) {
	if max(img.Rect.Dx(), img.Rect.Dy()) < 2*coarseSide {
		return firstRule(f.strips(img, stripOffsets), func(s strip) *Rule { return f.ruleOn(img, s, focal) })
	}
	half, c := f.halved(img)
	halfFocal := homography.Focal{Pixels: focal.Pixels / 2, U: focal.U / 2}
	return firstRule(c.strips(half, coarseOffsets), func(s strip) *Rule {
		coarse := c.ruleOn(half, s, halfFocal)
		if coarse == nil {
			return nil
		}
		return agreeing(coarse, f.ruleOn(img, s.doubled(), focal))
	})
}

// firstRule is that of the first strip that has one.
func firstRule(strips []strip, on func(s strip) *Rule) (*Rule, error) {
	rules := make([]*Rule, len(strips))
	first := cores.First(len(strips), func(i int) bool {
		rules[i] = on(strips[i])
		return rules[i] != nil
	})
	if first < len(strips) {
		return rules[first], nil
	}
	return nil, ErrNoRule
}

// ruleOn is the rule whose graduation runs along a strip; nil where there is none.
func (f *field) ruleOn(img *image.Gray, s strip, focal homography.Focal) *Rule {
	g, ok := s.graduation(img)
	if !ok {
		return nil
	}
	period, inward, ok := g.period(img)
	if !ok {
		return nil
	}
	r, err := fitRule(img, g, period, focal)
	if err != nil {
		return nil
	}
	r.Outline = f.body(r, g, inward)
	return r
}

const (
	windowLength = 256 // px along the edge: of one spectrum
	windowHop    = 64
	leastCycles  = 9    // of a graduation in one window
	mostCycles   = 105  // above, the period is under 2.4 px
	leastShare   = 0.40 // of a spectrum's power that the graduation and its harmonics must have
	leastWave    = 0.7  // amplitude of a graduation in grey levels, under Hann's window
	leastPeriods = 25   // that a graduation must show in all
	mostStrips   = 8
)

// stripOffsets are how far from a straight edge graduations are looked for, px.
var stripOffsets = []float64{-44, -30, -20, -12, -6, 6, 12, 20, 30, 44}

// bandOffsets likewise from a line along which edges cross.
var bandOffsets = []float64{-12, 0, 12}

// strip is a stretch beside a straight edge on which something is periodic.
type strip struct {
	ox, oy, dx, dy float64 // px: origin and direction; the normal is (-dy, dx)
	from, to       float64 // px along
	at, frequency  []float64
	periods        float64
}

// point is the pixel at t along and n beside the strip.
func (s strip) point(t, n float64) homography.Pixel {
	return homography.Pixel{X: s.ox + t*s.dx - n*s.dy, Y: s.oy + t*s.dy + n*s.dx}
}

// strips are the stretches with the most periods, best first, one of each place, within so many px beside
// straight edges. The lines are looked along on all cores.
func (f *field) strips(img *image.Gray, beyond []float64) []strip {
	lines := slices.Concat(f.lines, f.bands)
	beside := make([][]strip, len(lines))
	cores.EachWith(len(lines), func() func(int) {
		search := newLooks(img)
		return func(i int) {
			offsets := beyond
			if i >= len(f.lines) {
				offsets = bandOffsets
			}
			beside[i] = f.stripsBeside(lines[i], offsets, search)
		}
	})
	all := slices.Concat(beside...)
	slices.SortStableFunc(all, func(a, b strip) int {
		switch {
		case a.periods > b.periods:
			return -1
		case a.periods < b.periods:
			return 1
		}
		return 0
	})
	var kept []strip
	for _, s := range all {
		if len(kept) == mostStrips {
			break
		}
		if !slices.ContainsFunc(kept, s.besides) {
			kept = append(kept, s)
		}
	}
	return kept
}

// stripsBeside are the stretches along one line, so many px beside it.
func (f *field) stripsBeside(l line, offsets []float64, search *looks) (found []strip) {
	x, y := l.point(0)
	o := f.full(x, y)
	s := strip{ox: o.X, oy: o.Y, dx: -l.sin, dy: l.cos}
	t0, t1 := float64(l.first)*binAlong*f.scale-windowLength/2,
		float64(l.first+len(l.support))*binAlong*f.scale+windowLength/2
	if t1-t0 < windowLength {
		return nil
	}
	windows := (int(t1-t0)-windowLength)/windowHop + 1
	for _, off := range offsets {
		one := s
		p := s.point(0, off)
		one.ox, one.oy = p.X, p.Y
		if one = search.scan(one, t0, windows); one.periods >= leastPeriods {
			found = append(found, one)
		}
	}
	return found
}

// besides tells whether two strips run side by side within 5 px with the same frequency.
func (s strip) besides(o strip) bool {
	m := o.point((o.from+o.to)/2, 0)
	off := -(m.X-s.ox)*s.dy + (m.Y-s.oy)*s.dx
	return math.Abs(off) < 5 && math.Abs(s.dx*o.dy-s.dy*o.dx) < 0.02 &&
		math.Abs(median(s.frequency)/median(o.frequency)-1) < 0.1
}

func median(v []float64) float64 {
	c := slices.Clone(v)
	slices.Sort(c)
	return c[len(c)/2]
}

// signal is the grey level along the strip from t0, px by px, averaged over lines n +- half beside it.
func (s *strip) signal(img *image.Gray, t0 float64, count int, n, half float64) []float64 {
	out := make([]float64, max(0, count))
	lines := max(1, int(half*2/1.5))
	for k := range lines {
		beside := n + half*(2*(float64(k)+0.5)/float64(lines)-1)
		addLine(out, img, s.point(t0, beside), homography.Pixel{X: s.dx, Y: s.dy})
	}
	for i := range out {
		out[i] /= float64(lines)
	}
	return out
}
