package report

import (
	"math"

	"sitspan/fit"
)

// Rung is one stocked width in the ladder.
type Rung struct {
	MM            float64
	Chosen, Other bool
}

// Ladder is where the width needed lies among the stocked ones, in mm.
type Ladder struct {
	Low, High float64 // that it shows
	Need, U   float64 // the width needed and its expanded uncertainty, 95 %
	Rungs     []Rung
}

// LadderOf makes a choice's ladder.
func LadderOf(a fit.Recommendation) Ladder {
	u, _ := a.Requirement.Required.Budget.Expanded(0.95)
	l := Ladder{Need: a.Choice.RequiredMM, U: u}
	l.Low, l.High = ladderRange(a.Choice, l.Need, u)
	l.Rungs = rungs(a.Choice, l.Low, l.High)
	return l
}

// rungs are the stocked widths near the choice, and the width to order.
func rungs(c fit.Choice, low, high float64) []Rung {
	isThe := func(p *float64, w float64) bool { return p != nil && *p == w && c.Verdict != fit.MeasureAgain }
	var list []Rung
	seen := false
	for _, w := range c.Widths {
		r := Rung{w.WidthMM, isThe(c.WidthMM, w.WidthMM), isThe(c.AlternativeMM, w.WidthMM)}
		seen = seen || r.Other
		if r.MM >= low && r.MM <= high {
			list = append(list, r)
		}
	}
	if c.Verdict == fit.OutsideStock && c.AlternativeMM != nil && !seen {
		list = append(list, Rung{MM: *c.AlternativeMM, Other: true})
	}
	return list
}

// ladder shows where the needed width, a band as wide as its 95 % interval,
// lies among the stocked widths, dots; the filled one is to be taken, the ring
// is the other size or the one to order.
func (s *sheet) ladder(x, y, w float64, a fit.Recommendation) float64 {
	l := LadderOf(a)
	need, u := l.Need, l.U
	at := func(mm float64) float64 { return x + (mm-l.Low)/(l.High-l.Low)*w }
	band, dots := y+s.gap(1.2), y+s.gap(4.6)

	s.box(at(need-u), band-s.gap(0.9), at(need+u)-at(need-u), s.gap(1.8), tint)
	s.line(at(need), band-s.gap(1.5), at(need), band+s.gap(1.5), 0.5, accent)
	s.line(x, dots, x+w, dots, 0.25, grey)
	st := style{7 * s.scale, false, grey}
	lastEnd := math.Inf(-1)
	for _, r := range l.Rungs {
		px := at(r.MM)
		own := st
		switch {
		case r.Chosen:
			s.dot(px, dots, 1.15, accent)
			own.bold, own.ink = true, accent
		case r.Other:
			s.ring(px, dots, 1.05, 0.45, accent)
			own.bold, own.ink = true, accent
		default:
			s.dot(px, dots, 0.6, grey)
		}
		text := s.lang.Plain(r.MM)
		half := own.width(text) / 2
		if px-half < lastEnd+0.6 && !r.Chosen && !r.Other {
			continue
		}
		s.putMiddle(px, dots+s.gap(3.9), text, own)
		lastEnd = px + half
	}
	return dots + s.gap(4.4)
}

// ladderRange is what the ladder shows in mm: the needed width's interval, the
// choice, and some of the stock on either side.
func ladderRange(c fit.Choice, need, u float64) (low, high float64) {
	low, high = need-u, need+u
	for _, p := range []*float64{c.WidthMM, c.AlternativeMM} {
		if p != nil {
			low, high = math.Min(low, *p), math.Max(high, *p)
		}
	}
	const around = 13 // mm: in steps of 10, one size more on either side
	return low - around, high + around
}
