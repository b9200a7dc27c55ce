package fit

import (
	"math"
	"slices"

	"gonum.org/v1/gonum/stat/distuv"

	"sitspan/calibration/gum"
)

// Verdict says how sure the choice of a width is.
type Verdict string

// The verdicts. Scripts depend on these words.
const (
	Clear        Verdict = "clear"
	BetweenSizes Verdict = "between_sizes"
	MeasureAgain Verdict = "measure_again"
	OutsideStock Verdict = "outside_stock"
)

// Outside says on which side of the stock a requirement lies.
type Outside string

// The two sides of the stock.
const (
	TooWide   Outside = "too_wide"   // wider than anything here holds
	TooNarrow Outside = "too_narrow" // everything here is far too wide
)

// WidthProbability is what the requirement makes of one stocked width.
type WidthProbability struct {
	WidthMM     float64 `json:"width_mm"`
	Probability float64 `json:"probability"` // P(required <= width)
	// Holding is P(required <= width and spacing <= support) for the model of
	// this width with the widest support, where all models of it state one.
	Holding *float64 `json:"holding_probability,omitempty"`
}

// Choice is the width for one requirement: the object that `size --json`
// prints, and that `measure --json` holds as `width`. Lengths are in mm,
// rounded to a micrometre.
type Choice struct {
	RequiredMM  float64 `json:"required_mm"`
	RequiredU   float64 `json:"required_u_mm"` // standard uncertainty
	AllowanceMM float64 `json:"allowance_mm"`
	// WidthMM is the width that the rule chooses, W1; null outside the stock.
	WidthMM *float64 `json:"width_mm"`
	Verdict Verdict  `json:"verdict"`
	// AlternativeMM is W0, the next width that plain rounding up gives, where
	// it differs from W1; outside the stock the width to order; else null.
	AlternativeMM *float64 `json:"alternative_mm"`
	// Probability is P(required <= WidthMM), outside the stock that at the
	// width to order.
	Probability float64            `json:"probability"`
	Level       float64            `json:"level"`
	Outside     Outside            `json:"outside,omitempty"`
	Widths      []WidthProbability `json:"widths"`
	Notes       []Note             `json:"notes"`

	q Requirement
}

func newChoice(r Rule, q Requirement) Choice {
	return Choice{
		RequiredMM:  roundMicrometre(q.Required.Value),
		RequiredU:   roundMicrometre(q.U()),
		AllowanceMM: roundMicrometre(q.Allowance.MM),
		Level:       r.Level,
		q:           q,
	}
}

// roundMicrometre keeps what is printed free of binary arithmetic's digits.
func roundMicrometre(mm float64) float64 { return math.Round(mm*1e3) / 1e3 }

func (c *Choice) inside(v Verdict, ruled, plain float64) {
	c.Verdict, c.WidthMM = v, &ruled
	c.Probability = c.q.ProbabilityWithin(ruled)
	if plain != ruled {
		c.AlternativeMM = &plain
	}
}

func (c *Choice) outside(side Outside, order float64) {
	c.Verdict, c.Outside, c.AlternativeMM = OutsideStock, side, &order
	c.Probability = c.q.ProbabilityWithin(order)
}

// probabilities lists every stocked width with its probability.
func probabilities(q Requirement, holds []hold) []WidthProbability {
	var list []WidthProbability
	for i := 0; i < len(holds); {
		w, end := holds[i].widthMM, i
		for end < len(holds) && holds[end].widthMM == w {
			end++
		}
		list = append(list, probabilityOf(q, holds[i:end]))
		i = end
	}
	return list
}

// probabilityOf looks at the holds of one width; they are sorted by support,
// "not stated" first.
func probabilityOf(q Requirement, same []hold) WidthProbability {
	p := WidthProbability{WidthMM: same[0].widthMM, Probability: q.ProbabilityWithin(same[0].widthMM)}
	if same[0].supportMM > 0 {
		h := same[len(same)-1]
		holding := q.ProbabilityHolding(h.widthMM, h.supportMM)
		p.Holding = &holding
	}
	return p
}

// explain adds the notes: the verdict first, then what would decide it, then
// what limits it, then where the allowance and the stock come from.
func (c *Choice) explain(p pick, s Stock) {
	c.Notes = append(c.Notes, c.verdictNote(p))
	switch c.Verdict {
	case BetweenSizes:
		c.Notes = append(c.Notes, c.decideNotes(p)...)
	case MeasureAgain:
		c.Notes = append(c.Notes, note("warn.too_wide_chafes"))
	case OutsideStock:
		c.Notes = append(c.Notes, c.outsideNotes(p)...)
	case Clear:
		if c.q.U() == 0 {
			c.Notes = append(c.Notes, note("u.zero"))
		}
	}
	c.Notes = append(c.Notes, c.limitNotes(p, s)...)
	c.Notes = append(c.Notes, c.q.Allowance.Notes...)
	if s.Example {
		c.Notes = append(c.Notes, note("stock.example"))
	}
}

func (c *Choice) verdictNote(p pick) Note {
	switch c.Verdict {
	case BetweenSizes, MeasureAgain:
		return note("verdict."+string(c.Verdict),
			"width", *c.WidthMM, "probability", c.Probability, "alternative", *c.AlternativeMM,
			"alternative_probability", c.q.ProbabilityWithin(*c.AlternativeMM), "level", c.Level)
	case OutsideStock:
		end := p.widest()
		if *c.AlternativeMM <= end && c.Outside == TooWide {
			return note("verdict.no_support", "order", *c.AlternativeMM, "spacing", c.q.Spacing.Value, "level",
				c.Level)
		}
		if c.Outside == TooNarrow {
			end = p.narrowest()
		}
		return note("verdict."+string(c.Outside), "end", end, "order", *c.AlternativeMM,
			"end_probability", c.q.ProbabilityWithin(end), "level", c.Level)
	}
	return note("verdict.clear", "width", *c.WidthMM, "probability", c.Probability, "required", c.RequiredMM)
}

// decideNotes says what would decide between W0 and W1: how well the spacing
// would have to be known for W0, or that no measurement can tell.
func (c *Choice) decideNotes(p pick) []Note {
	notes := make([]Note, 0, 3)
	if u := p.spacingUFor(p.plain.widthMM); u >= leastUsefulU {
		notes = append(notes, note("decide.photo", "alternative", p.plain.widthMM,
			"expanded", distuv.UnitNormal.Quantile(0.975)*u))
	} else {
		notes = append(notes, note("decide.at_edge", "alternative", p.plain.widthMM))
	}
	return append(notes, note("decide.sitting"), note("decide.test_ride"))
}

// leastUsefulU in mm: a spacing is not known better than this by any imprint,
// so asking for less would send the fitter on an errand (assumed: the best
// that repeated sittings reach).
const leastUsefulU = 0.25

// spacingUFor is the spacing's standard uncertainty in mm below which the rule
// would accept a width at the same value; 0 where none would do.
func (p pick) spacingUFor(widthMM float64) float64 {
	margin := widthMM - p.q.required.x
	if margin <= 0 || p.rule.Level <= 0.5 {
		return 0
	}
	u := margin / gum.GuardBand(1, p.q.required.nu, p.rule.Level)
	others := p.q.required.u*p.q.required.u - p.q.spacing.u*p.q.spacing.u
	return math.Sqrt(math.Max(0, u*u-others))
}

// outsideNotes says what might bring a requirement back into the stock.
func (c *Choice) outsideNotes(p pick) []Note {
	if c.Outside == TooNarrow {
		return []Note{note("warn.too_wide_chafes")}
	}
	if p.plain != nil {
		return []Note{note("decide.into_stock", "plain", p.plain.widthMM,
			"probability", c.q.ProbabilityHolding(p.plain.widthMM, p.plain.supportMM), "level", c.Level)}
	}
	return nil
}

// limitNotes says what stood in the way of a narrower width, and what is odd.
func (c *Choice) limitNotes(p pick, s Stock) []Note {
	var notes []Note
	if w, short := p.supportShort(); short && c.Verdict != OutsideStock {
		notes = append(notes, note("support.short", "width", w, "spacing", c.q.Spacing.Value, "level", c.Level))
	}
	if w := c.soldOut(p, s); w > 0 {
		notes = append(notes, note("stock.sold_out", "width", w))
	}
	if c.WidthMM != nil && *c.WidthMM == p.narrowest() && p.stepsBelow() >= 1 {
		notes = append(notes, note("stock.starts_above", "narrowest", p.narrowest(), "need", p.narrowest()-p.step))
	}
	if x := c.q.Spacing.Value; x < lowSpacingMM || x > highSpacingMM {
		notes = append(notes, note("spacing.implausible", "spacing", x, "low", lowSpacingMM, "high", highSpacingMM))
	}
	return notes
}

// soldOut finds the narrowest width that is sold out and that the rule would
// have taken before the one it chose; 0 where there is none.
func (c *Choice) soldOut(p pick, s Stock) float64 {
	if c.Outside == TooNarrow {
		return 0
	}
	out := s.soldOutWidths()
	i := slices.IndexFunc(out, func(w float64) bool {
		return p.q.ProbabilityWithin(w) >= p.rule.Level && (c.WidthMM == nil || w < *c.WidthMM)
	})
	if i < 0 {
		return 0
	}
	return out[i]
}
