package desk

import (
	"sitspan/cmd/sitspan/internal/report"
	"sitspan/cmd/sitspan/internal/store"
	"sitspan/fit"
)

// bikeChoice is one bike's part of the choice's page.
type bikeChoice struct {
	fit.Recommendation
	Place   int // among the visit's bikes, from 1
	Saddle  store.Saddle
	Ours    string // what this window would say of the ride, where another said something else meanwhile
	Ladder  ladder
	Widths  []chance
	Pair    versus
	Same    []fit.RankedModel // that no reason tells from the best
	Further []fit.RankedModel // beyond the pair
}

func choiceFor(b store.Bike, a fit.Recommendation) bikeChoice {
	c := bikeChoice{Recommendation: a, Place: b.Place, Saddle: b.Saddle, Ladder: ladderOf(a), Pair: pairOf(a),
		Same: a.Equals()}
	before := 0.0
	for _, w := range a.Choice.Widths {
		c.Widths = append(c.Widths, chance{w.WidthMM, max(0, w.Probability-before), w.Probability})
		before = w.Probability
	}
	second, _ := a.RunnerUp()
	for i, m := range a.Models {
		if i > 0 && m.Model.Name != second.Name {
			c.Further = append(c.Further, m)
		}
	}
	if len(a.AlternativeModels) > 1 {
		c.Further = append(c.Further, a.AlternativeModels[1:]...)
	}
	return c
}

// Takes says whether a saddle is the one that the rider takes.
func (c bikeChoice) Takes(m fit.RankedModel) bool {
	t := c.Saddle.Taken
	return t != nil && t.Name == m.Name && t.WidthMM == m.WidthMM
}

// chance is a stocked width with its probabilities.
type chance struct {
	WidthMM float64
	Share   float64 // that this is the smallest width that holds
	Within  float64 // that it is wide enough
}

// versus are two candidates side by side.
type versus struct {
	Saddles []candidate // one or two; none where no saddle is chosen
	Lines   []versusLine
	Widths  bool // they differ in width: between two sizes
}

// candidate is a saddle in the comparison.
type candidate struct {
	fit.RankedModel
	Within float64 // the probability that its width is wide enough
}

// versusLine is what one criterion says of each.
type versusLine struct {
	Reasons []fit.Reason
	Decides bool // the first in which they differ: it put them in this order
}

// pairOf sets the best saddle beside the next one.
func pairOf(a fit.Recommendation) (p versus) {
	best, ok := a.Best()
	if !ok {
		return p
	}
	p.Saddles = []candidate{{best, within(a.Choice, best.WidthMM)}}
	next, two := a.RunnerUp()
	if two {
		p.Saddles = append(p.Saddles, candidate{next, within(a.Choice, next.WidthMM)})
		p.Widths = next.WidthMM != best.WidthMM
	}
	decided := p.Widths
	for i, r := range best.Reasons {
		l := versusLine{Reasons: []fit.Reason{r}}
		if two && i < len(next.Reasons) {
			l.Reasons = append(l.Reasons, next.Reasons[i])
			l.Decides = !decided && next.Reasons[i].Grade != r.Grade
			decided = decided || l.Decides
		}
		p.Lines = append(p.Lines, l)
	}
	return p
}

// within is the probability that a stocked width is wide enough.
func within(c fit.Choice, mm float64) float64 {
	for _, w := range c.Widths {
		if w.WidthMM == mm {
			return w.Probability
		}
	}
	return 0
}

// The drawing of the ladder, in its own units.
const (
	ladderWide = 320.0
	ladderEdge = 18.0
)

// ladder is the drawing of where the width needed lies among the stocked ones, as the sheet has it.
type ladder struct {
	report.Ladder
	Wide          float64
	Need          float64 // where the width needed stands
	Band, BandEnd float64 // its interval
	Marks         []mark
}

// mark is a stocked width in the drawing.
type mark struct {
	report.Rung
	X      float64
	Within float64
}

func ladderOf(a fit.Recommendation) ladder {
	l := ladder{Ladder: report.LadderOf(a), Wide: ladderWide}
	at := func(mm float64) float64 {
		return ladderEdge + (mm-l.Low)/(l.High-l.Low)*(ladderWide-2*ladderEdge)
	}
	l.Need, l.Band, l.BandEnd = at(l.Ladder.Need), at(l.Ladder.Need-l.U), at(l.Ladder.Need+l.U)
	for _, r := range l.Rungs {
		l.Marks = append(l.Marks, mark{r, at(r.MM), within(a.Choice, r.MM)})
	}
	return l
}

// Length is the band's.
func (l ladder) Length() float64 { return l.BandEnd - l.Band }
