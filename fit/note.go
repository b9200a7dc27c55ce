package fit

import "slices"

// Note is something a fitter or rider should read: a stable code, and the
// values that its sentence mentions. The sentence is made where it is read, so
// that a record can be printed years later in any language.
type Note struct {
	Code string `json:"code"`
	// Message is the sentence, put in by whoever writes a note down for
	// people and scripts to read; nothing here reads it.
	Message string         `json:"message,omitempty"`
	Params  map[string]any `json:"params,omitempty"`
}

// note builds a Note from a code of Codes and name, value pairs.
func note(code string, pairs ...any) Note {
	n := Note{Code: code}
	for i := 0; i+1 < len(pairs); i += 2 {
		if n.Params == nil {
			n.Params = make(map[string]any, len(pairs)/2)
		}
		n.Params[pairs[i].(string)] = pairs[i+1]
	}
	return n
}

// Codes lists every code that a note can have. They are stable: records keep
// them. What may be said of one: no diagnosis, no promise, and no number
// without its basis; where a fact is common practice or our assumption, the
// sentence says so.
func Codes() []string {
	codes := slices.Clone(plainCodes)
	for _, c := range Complaints() {
		g, _ := ComplaintGuideFor(c)
		for n := range g.notes {
			if !slices.Contains(codes, n.Code) {
				codes = append(codes, n.Code)
			}
		}
	}
	return codes
}

var plainCodes = []string{
	"verdict.clear", "verdict.between_sizes", "verdict.measure_again",
	"verdict.too_wide", "verdict.too_narrow", "verdict.no_support",
	"decide.photo", "decide.at_edge", "decide.sitting", "decide.test_ride", "decide.into_stock",
	"warn.too_wide_chafes", "u.zero", "support.short",
	"stock.sold_out", "stock.starts_above", "stock.example", "spacing.implausible",
	"allowance.clamped", "allowance.default_table", "allowance.shop_table", "allowance.by_hand",

	"rank.use.for", "rank.use.not_stated", "rank.use.against",
	"rank.relief.for", "rank.relief.not_stated", "rank.relief.against",
	"rank.nose.for", "rank.nose.not_stated", "rank.nose.against",
	"rank.length.for", "rank.length.not_stated", "rank.length.short", "rank.length.long",
	"rank.mass.for", "rank.mass.not_stated",
	"rank.damper.for", "rank.damper.not_stated", "rank.damper.none", "rank.damper.against",
	"rank.stock.for", "rank.stock.not_stated", "rank.stock.against",
	"exclude.mass", "exclude.support", "models.none_fit",

	"damping.by_mass", "damping.near", "damping.mass_unknown",
	"caution.physician", "caution.limits", "caution.advice_only",
}

// Terms lists the fixed terms that a note or a page names: uses, dampers,
// complaints, reliefs, parts of the set-up and verdicts.
func Terms() []string {
	return slices.Concat(asWords(Uses()), asWords(Dampers()), asWords(Complaints()),
		asWords([]Relief{NoRelief, ChannelRelief, CutoutRelief, SomeRelief}),
		asWords([]SetUp{Tilt, Height, ForeAft, Cleats}),
		asWords([]Verdict{Clear, BetweenSizes, MeasureAgain, OutsideStock}))
}

// EachNote goes through the notes of a choice.
func (c *Choice) EachNote(do func(*Note)) {
	for i := range c.Notes {
		do(&c.Notes[i])
	}
}

// EachNote goes through all notes of a recommendation.
func (r *Recommendation) EachNote(do func(*Note)) {
	r.Choice.EachNote(do)
	for _, list := range [][]Note{r.Requirement.Allowance.Notes, r.Notes, r.Cautions} {
		for i := range list {
			do(&list[i])
		}
	}
	for _, models := range [][]RankedModel{r.Models, r.AlternativeModels} {
		for _, m := range models {
			for i := range m.Reasons {
				do(&m.Reasons[i].Note)
			}
		}
	}
	for i := range r.Excluded {
		do(&r.Excluded[i].Why)
	}
	do(&r.Damping.Note)
	for _, g := range r.Guides {
		for n := range g.notes {
			do(n)
		}
	}
}

// notes goes through the notes of a guide.
func (g ComplaintGuide) notes(yield func(*Note) bool) {
	for _, list := range [][]Note{g.Saddle, g.Stop, g.Basis} {
		for i := range list {
			if !yield(&list[i]) {
				return
			}
		}
	}
	for i := range g.SetUp {
		if !yield(&g.SetUp[i].Note) {
			return
		}
	}
}
