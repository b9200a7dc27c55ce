package fit

import (
	"cmp"
	"slices"
)

// Criterion is one reason by which models of a width are put in order.
type Criterion string

// The criteria, the first to decide first. There is no score: a later one is
// looked at only where all earlier ones are equal, and after the last one the
// model's name decides.
const (
	ByUse    Criterion = "use"
	ByRelief Criterion = "relief" // only where a complaint asks for it
	ByNose   Criterion = "nose"
	ByLength Criterion = "length"
	ByMass   Criterion = "mass" // only where the rider's mass is known
	ByDamper Criterion = "damper"
	ByStock  Criterion = "stock"
)

// Grade is how a criterion speaks. It is a word with an order, not a score.
type Grade int

// The grades, worst first.
const (
	Against   Grade = iota
	NotStated       // the stock's file does not say
	For
)

// Reason is what one criterion says about a model.
type Reason struct {
	Criterion Criterion `json:"criterion"`
	Grade     Grade     `json:"grade"`
	Note      Note      `json:"note"`
}

// RankedModel is a model with its reasons, in the order of the criteria.
type RankedModel struct {
	Model
	Reasons []Reason `json:"reasons"`
}

// ExcludedModel is a model that must not be recommended, and why.
type ExcludedModel struct {
	Model
	Why Note `json:"why"`
}

// wishes is what a rider on a bike asks of a model.
type wishes struct {
	use         Use
	shape       ShapeProfile
	massKg      float64
	damper      Damper
	damperOther Damper
	reliefFor   Complaint // the complaint that asks for relief, empty if none
	noseFor     Complaint // the complaint that asks for a narrow nose
	q           Requirement
}

func newWishes(rec Recommendation, r Rider) wishes {
	w := wishes{
		use: rec.Bike.Use, shape: ShapeFor(rec.Bike.Use), massKg: r.MassKg, q: rec.Requirement,
		damper: rec.Damping.Damper, damperOther: rec.Damping.Other,
	}
	for _, g := range rec.Guides {
		if g.wantsRelief && w.reliefFor == "" {
			w.reliefFor = g.Complaint
		}
		if g.noseMaxMM > 0 && (w.shape.NoseMaxMM == 0 || g.noseMaxMM < w.shape.NoseMaxMM) {
			w.shape.NoseMaxMM, w.noseFor = g.noseMaxMM, g.Complaint
		}
	}
	return w
}

// rank puts the named models of a width in order and takes out those that must
// not be recommended. level is the rule's level for the support, 0 to ask only
// that the support holds the spacing as it was read.
func (w wishes) rank(s Stock, widthMM, level float64) (ranked []RankedModel, excluded []ExcludedModel) {
	for _, m := range s.Models {
		if m.WidthMM != widthMM || m.Name == "" {
			continue
		}
		if why, out := w.exclude(m, level); out {
			excluded = append(excluded, ExcludedModel{m, why})
			continue
		}
		ranked = append(ranked, RankedModel{m, w.reasons(m)})
	}
	slices.SortFunc(ranked, compareRanked)
	slices.SortFunc(excluded, func(a, b ExcludedModel) int { return a.key().compare(b.key()) })
	return ranked, excluded
}

// exclude: never a model whose limit is below the rider's mass, and never one
// on whose support the bones do not rest.
func (w wishes) exclude(m Model, level float64) (Note, bool) {
	if m.MaxRiderKg > 0 && w.massKg > m.MaxRiderKg {
		return note("exclude.mass", "limit", m.MaxRiderKg, "mass", w.massKg), true
	}
	holds := m.SupportMM == 0 || w.q.spacing.x <= m.SupportMM+slackMM
	if holds && level > 0 {
		holds = w.q.ProbabilityHolding(m.WidthMM, m.SupportMM) >= level
	}
	if !holds {
		return note("exclude.support", "support", m.SupportMM, "spacing", w.q.spacing.x), true
	}
	return Note{}, false
}

// gradedAs says whether every reason speaks alike of two models.
func (a RankedModel) gradedAs(b RankedModel) bool {
	return slices.EqualFunc(a.Reasons, b.Reasons, func(x, y Reason) bool { return x.Grade == y.Grade })
}

// compareRanked is lexicographic by the reasons' grades, then by the key.
func compareRanked(a, b RankedModel) int {
	for i := range a.Reasons {
		if d := cmp.Compare(b.Reasons[i].Grade, a.Reasons[i].Grade); d != 0 {
			return d
		}
	}
	return a.key().compare(b.key())
}

// reasons lists what the criteria say, always the same criteria for the same
// rider and bike, so that two models can be compared one by one.
func (w wishes) reasons(m Model) []Reason {
	var rs []Reason
	if w.use != "" {
		rs = append(rs, w.useReason(m))
	}
	if w.reliefFor != "" {
		rs = append(rs, w.reliefReason(m))
	}
	if w.shape.NoseMaxMM > 0 {
		rs = append(rs, w.noseReason(m))
	}
	if w.shape.LengthMinMM > 0 || w.shape.LengthMaxMM > 0 {
		rs = append(rs, w.lengthReason(m))
	}
	if w.massKg > 0 {
		rs = append(rs, w.massReason(m), w.damperReason(m))
	}
	return append(rs, stockReason(m))
}

func (w wishes) useReason(m Model) Reason {
	switch {
	case m.MadeFor(w.use):
		return Reason{ByUse, For, note("rank.use.for", "use", string(w.use))}
	case len(m.Uses) == 0:
		return Reason{ByUse, NotStated, note("rank.use.not_stated")}
	}
	return Reason{ByUse, Against, note("rank.use.against", "use", string(w.use), "uses", asWords(m.Uses))}
}

func (w wishes) reliefReason(m Model) Reason {
	switch m.Relief {
	case "":
		return Reason{ByRelief, NotStated, note("rank.relief.not_stated", "complaint", string(w.reliefFor))}
	case NoRelief:
		return Reason{ByRelief, Against, note("rank.relief.against", "complaint", string(w.reliefFor))}
	}
	return Reason{ByRelief, For, note("rank.relief.for", "relief", string(m.Relief), "complaint",
		string(w.reliefFor))}
}

func (w wishes) noseReason(m Model) Reason {
	why := string(w.use)
	if w.noseFor != "" {
		why = string(w.noseFor)
	}
	switch {
	case m.NoseMM == 0:
		return Reason{ByNose, NotStated, note("rank.nose.not_stated")}
	case m.NoseMM <= w.shape.NoseMaxMM:
		return Reason{ByNose, For, note("rank.nose.for", "nose", m.NoseMM, "max", w.shape.NoseMaxMM, "why", why)}
	}
	return Reason{ByNose, Against, note("rank.nose.against", "nose", m.NoseMM, "max", w.shape.NoseMaxMM, "why",
		why)}
}

func (w wishes) lengthReason(m Model) Reason {
	low, high := w.shape.LengthMinMM, w.shape.LengthMaxMM
	use := string(w.use)
	switch {
	case m.LengthMM == 0:
		return Reason{ByLength, NotStated, note("rank.length.not_stated")}
	case m.LengthMM < low:
		return Reason{ByLength, Against, note("rank.length.short", "length", m.LengthMM, "bound", low, "use", use)}
	case high > 0 && m.LengthMM > high:
		return Reason{ByLength, Against, note("rank.length.long", "length", m.LengthMM, "bound", high, "use", use)}
	}
	return Reason{ByLength, For, note("rank.length.for", "length", m.LengthMM, "use", use)}
}

func (w wishes) massReason(m Model) Reason {
	if m.MaxRiderKg == 0 {
		return Reason{ByMass, NotStated, note("rank.mass.not_stated", "mass", w.massKg)}
	}
	return Reason{ByMass, For, note("rank.mass.for", "limit", m.MaxRiderKg, "mass", w.massKg)}
}

// damperReason: near a border, a model that offers either of the two dampers
// serves.
func (w wishes) damperReason(m Model) Reason {
	offers := func(d Damper) bool { return d != "" && slices.Contains(m.Dampers, d) }
	switch {
	case offers(w.damper):
		return Reason{ByDamper, For, note("rank.damper.for", "damper", string(w.damper))}
	case offers(w.damperOther):
		return Reason{ByDamper, For, note("rank.damper.for", "damper", string(w.damperOther))}
	case m.Dampers == nil:
		return Reason{ByDamper, NotStated, note("rank.damper.not_stated")}
	case len(m.Dampers) == 0:
		return Reason{ByDamper, Against, note("rank.damper.none")}
	}
	return Reason{ByDamper, Against, note("rank.damper.against", "damper", string(w.damper), "dampers",
		asWords(m.Dampers))}
}

func stockReason(m Model) Reason {
	switch m.Qty {
	case QtyNotStated:
		return Reason{ByStock, NotStated, note("rank.stock.not_stated")}
	case 0:
		return Reason{ByStock, Against, note("rank.stock.against")}
	}
	return Reason{ByStock, For, note("rank.stock.for", "qty", m.Qty)}
}

// asWords turns uses or dampers into plain strings, as a Note's parameters are.
func asWords[T ~string](list []T) []string {
	words := make([]string, len(list))
	for i, w := range list {
		words[i] = string(w)
	}
	return words
}

// hasNames says whether the stock lists models, not bare widths.
func (s Stock) hasNames() bool {
	return slices.ContainsFunc(s.Models, func(m Model) bool { return m.Name != "" })
}
