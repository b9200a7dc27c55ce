package reference

import (
	"errors"
	"image"
	"math"
	"math/cmplx"

	"sitspan/imprint/homography"
)

const (
	// RuleThickness in mm lies between a printed scale's and a wooden rule's; RuleThicknessU is its standard
	// uncertainty. An assumption.
	RuleThickness, RuleThicknessU = 0.8, 0.5
	// GraduationHalfWidth is what a graduation may be off, relative, rectangular. A steel rule is better, a
	// print may be worse; an assumption.
	GraduationHalfWidth = 0.003

	ruleScaleU  = GraduationHalfWidth / 1.7320508
	lineU       = 0.15 // px, of ten lines' mean place before the fit says better
	leastLineU  = 0.05
	worstRule   = 0.6 // px rms beyond which it is no straight even graduation
	leastLength = 50  // mm of graduation, below which a few even strokes may pass for one
	ruleRows    = 3   // places across the band at which lines are read
)

const (
	scaleError = firstOwn // relative, of the graduation
	ruleCount  = firstOwn + 1
)

var errUneven = errors.New("the graduation is not even")

// fitRule fits the pose to where the lines are seen: each is a line x = const of the rule's own axes.
func fitRule(img *image.Gray, g *graduation, period float64, focal homography.Focal) (*Rule, error) {
	s := scene{width: img.Rect.Dx(), height: img.Rect.Dy(), priors: phone(focal), count: ruleCount}
	s.priors[topHeight] = prior{RuleThickness, RuleThicknessU}
	s.priors[scaleError] = prior{0, ruleScaleU}
	mid := (g.strip.from + g.strip.to) / 2
	gsd := period * math.Abs(g.frequencyAt(mid))
	height := g.high - g.low
	origin := math.Round(g.periods(mid))
	for row := range ruleRows {
		beside := g.low + height*(float64(row)+0.5)/ruleRows
		readings := g.windows(img, beside, height/2/ruleRows)
		var size []float64
		for _, w := range readings {
			size = append(size, cmplx.Abs(w.c))
		}
		if len(size) == 0 {
			continue
		}
		least := 0.35 * median(size)
		for _, w := range readings {
			if cmplx.Abs(w.c) < least {
				continue
			}
			off := cmplx.Phase(w.c*complex(-g.darker, 0)) / (2 * math.Pi) // periods of which the phase falls short
			x := (g.periods(w.t) + off - origin) * period
			s.sightings = append(s.sightings, sighting{at: g.point(w.t, beside), axis: 0, gsd: gsd, u: lineU,
				target: func(p []float64) float64 {
					return x * (1 + p[scaleError])
				}})
		}
	}
	if len(s.sightings) < 4*ruleRows || float64(g.to-g.from)*period < leastLength {
		return nil, errUneven
	}
	centre := g.point(mid, (g.low+g.high)/2)
	s.sightings = append(s.sightings, sighting{at: centre, axis: 1, gsd: gsd, u: leastLineU,
		target: func([]float64) float64 { return 0 }})
	pose, err := s.fit(s.startAlong(g, centre, gsd, focal), leastLineU)
	if err != nil {
		return nil, err
	}
	if pose.RMSPixels > worstRule {
		return nil, errUneven
	}
	pose.groups = []group{
		{Graduation, []int{scaleError}},
		{Thickness, []int{topHeight}},
		{Lens, []int{radial, principalX, principalY}},
		{FocalLength, []int{logFocal}},
	}
	r := &Rule{Pose: *pose, Period: period, Length: float64(g.to-g.from) * period}
	r.TiltAcrossU = pose.tiltAcrossU()
	return r, nil
}

// startAlong is a frontal view with the graduation along x.
func (s *scene) startAlong(g *graduation, centre homography.Pixel, gsd float64,
	focal homography.Focal) []float64 {
	dx, dy := g.dx, g.dy
	if g.frequencyAt((g.strip.from+g.strip.to)/2) < 0 {
		dx, dy = -dx, -dy
	}
	s.rotation = rotation(0, 0, math.Atan2(dy, dx))
	p := make([]float64, s.count)
	for k, v := range s.priors {
		p[k] = v.mean
	}
	p[shiftZ] = focal.Pixels * gsd
	p[shiftX] = (centre.X - float64(s.width-1)/2) * gsd
	p[shiftY] = (centre.Y - float64(s.height-1)/2) * gsd
	return p
}

// tiltAcrossU is the standard uncertainty in degrees of the tilt about the rule's own axis.
func (s *Pose) tiltAcrossU() float64 {
	free := make([]bool, s.count)
	for i := range free {
		free[i] = true
	}
	// The normal's component along the camera's image of the rule's y axis.
	across := func(p []float64) float64 {
		r := s.turned(p)
		return math.Asin(math.Max(-1, math.Min(1, r[7]))) * 180 / math.Pi
	}
	return math.Sqrt(s.variance(s.gradient(across), free))
}

const (
	bodyEnds = 9.0 // mm that a rule goes on beyond its graduation
	// mm across where its far edge is not seen; and the widest that is looked for, with a few more
	bodyWidth = 32.0
	bodyWide  = 46.0
	bodyEdge  = 2.5 // mm beyond the band of lines to its near edge
)

// body is what the rule covers: from its graduated edge to the farthest straight edge along it.
func (f *field) body(r *Rule, g *graduation, inward float64) (q [4]homography.Pixel) {
	mid := (g.strip.from + g.strip.to) / 2
	gsd := r.Period * math.Abs(g.frequencyAt(mid))
	far := bodyWidth / gsd
	near := (g.low+g.high)/2 - inward*((g.high-g.low)/2+bodyEdge/gsd)
	best := 0.0
	for _, l := range f.lines {
		a, b := g.point(g.strip.from, 0), g.point(g.strip.to, 0)
		if math.Abs(g.dx*l.sin*-1+g.dy*l.cos) < 0.995 {
			continue
		}
		// How far beside the strip the line lies at the middle.
		m := g.point(mid, 0)
		x, y := (m.X+0.5)/f.scale-0.5, (m.Y+0.5)/f.scale-0.5
		off := (l.rho - x*l.cos - y*l.sin) * (-g.dy*l.cos + g.dx*l.sin) * f.scale
		across := inward * (off - near)
		if across*gsd < 8 || across*gsd > bodyWide {
			continue
		}
		t0 := l.along((a.X+0.5)/f.scale-0.5, (a.Y+0.5)/f.scale-0.5)
		t1 := l.along((b.X+0.5)/f.scale-0.5, (b.Y+0.5)/f.scale-0.5)
		if seen := l.seen(t0, t1); seen > 0.5 && across > best {
			best = across
		}
	}
	if best > 0 {
		far = best + 1.5/gsd
	}
	ends := bodyEnds / gsd
	for i, c := range [4][2]float64{{g.strip.from - ends, near}, {g.strip.to + ends, near},
		{g.strip.to + ends, near + inward*far}, {g.strip.from - ends, near + inward*far}} {
		q[i] = g.point(c[0], c[1])
	}
	return q
}
