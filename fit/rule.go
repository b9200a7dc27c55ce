package fit

import (
	"math"
)

// DefaultLevel is the probability with which the chosen width must hold.
const DefaultLevel = 0.95

// Rule is how a width is chosen, equation (4): the smallest stocked width W
// with P(required <= W) >= Level (JCGM 106:2012, 8.3: a guarded acceptance).
// Where a model states a support, the width on which bones can rest, the level
// holds for both together: P(required <= width and spacing <= support).
type Rule struct {
	Level float64 // probability, from 0.5 to below 1
}

// DefaultRule is the rule at 95 %.
func DefaultRule() Rule { return Rule{Level: DefaultLevel} }

// Validate refuses a level below 0.5, which would round down, and one of 1 or
// more, which no measurement reaches.
func (r Rule) Validate() error {
	if !(r.Level >= 0.5 && r.Level < 1) {
		return BadLevel.With("level", r.Level)
	}
	return nil
}

// Choose picks a width for a requirement. The verdict compares the rule's
// width W1 with W0, which plain rounding up of the required value gives among
// the stocked widths whose support holds the spacing:
//
//   - W1 = W0: clear.
//   - W1 is the next stocked width above W0: between two sizes, both shown.
//   - W1 is farther above: measure again, since a saddle too wide chafes.
//   - No W1: outside the stock, too wide for it (or for its supports).
//   - The stock's own ladder of widths, continued downward, would have a width
//     that holds two or more steps below the narrowest: outside the stock, too
//     narrow for it. One step is let pass, as for "between two sizes".
//
// Outside the stock, the width to order is the next whole step of that ladder;
// see orderStepMM.
func (r Rule) Choose(q Requirement, s Stock) (Choice, error) {
	if err := r.Validate(); err != nil {
		return Choice{}, err
	}
	holds := s.holds()
	if len(holds) == 0 {
		return Choice{}, NoSaddle.With()
	}
	c := newChoice(r, q)
	c.Widths = probabilities(q, holds)
	p := pickFrom(r, q, holds)
	switch {
	case p.tooNarrow():
		c.outside(TooNarrow, p.orderMM())
	case p.ruled == nil:
		c.outside(TooWide, p.orderMM())
	default:
		c.inside(p.verdict(), p.ruled.widthMM, p.plain.widthMM)
	}
	c.explain(p, s)
	return c, nil
}

// pick is the rule's answer before it is put into words.
type pick struct {
	rule   Rule
	q      Requirement
	widths []float64 // distinct stocked widths, narrowest first
	step   float64   // of the stock's ladder, mm
	needMM float64   // width at which the level is reached
	plain  *hold     // W0, nil where there is none
	ruled  *hold     // W1, nil where there is none
	sizes  []float64 // distinct stocked widths at which a support holds the spacing
}

// pickFrom finds W0 and W1 among the holds, which are sorted.
func pickFrom(r Rule, q Requirement, holds []hold) pick {
	p := pick{rule: r, q: q, needMM: q.needMM(r.Level)}
	for i, h := range holds {
		p.widths = appendNew(p.widths, h.widthMM)
		if q.spacing.x > h.supportOrInf()+slackMM {
			continue
		}
		p.sizes = appendNew(p.sizes, h.widthMM)
		if p.plain == nil && q.required.x <= h.widthMM+slackMM {
			p.plain = &holds[i]
		}
		if p.ruled == nil && q.ProbabilityHolding(h.widthMM, h.supportMM) >= r.Level {
			p.ruled = &holds[i]
		}
	}
	p.step = orderStepMM(p.widths)
	return p
}

// appendNew appends a width to a sorted list unless it ends in it already.
func appendNew(ws []float64, w float64) []float64 {
	if len(ws) > 0 && ws[len(ws)-1] == w {
		return ws
	}
	return append(ws, w)
}

// verdict compares W1 with W0; both exist.
func (p pick) verdict() Verdict {
	above := 0
	for _, w := range p.sizes {
		if w > p.plain.widthMM && w <= p.ruled.widthMM {
			above++
		}
	}
	switch above {
	case 0:
		return Clear
	case 1:
		return BetweenSizes
	}
	return MeasureAgain
}

func (p pick) narrowest() float64 { return p.widths[0] }
func (p pick) widest() float64    { return p.widths[len(p.widths)-1] }

// stepsBelow counts the whole steps that the needed width lies below the
// narrowest stocked one.
func (p pick) stepsBelow() float64 {
	return math.Floor((p.narrowest() - p.needMM + slackMM) / p.step)
}

// tooNarrow: two or more steps below the narrowest width.
func (p pick) tooNarrow() bool { return p.stepsBelow() >= 2 }

// orderMM is the width to order: the narrowest of the stock's ladder, continued
// in whole steps beyond its ends, that the rule accepts.
func (p pick) orderMM() float64 {
	if p.tooNarrow() {
		return roundMM(p.narrowest() - p.stepsBelow()*p.step)
	}
	for _, w := range p.widths { // a stocked width whose support is too narrow
		if p.needMM <= w+slackMM {
			return w
		}
	}
	steps := math.Ceil((p.needMM - p.widest() - slackMM) / p.step)
	return roundMM(p.widest() + steps*p.step)
}

// supportShort says whether a width would do by itself but no model of it has
// the support; it gives the narrowest such width below W1.
func (p pick) supportShort() (widthMM float64, short bool) {
	for _, w := range p.widths {
		if p.ruled != nil && w >= p.ruled.widthMM {
			break
		}
		if p.q.ProbabilityWithin(w) >= p.rule.Level {
			return w, true
		}
	}
	return 0, false
}
