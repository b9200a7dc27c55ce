package fit

import (
	"errors"

	"sitspan/calibration/gum"
)

// Bike is one bike of a rider.
type Bike struct {
	Name    string  `json:"name,omitempty"`
	Use     Use     `json:"use,omitempty"` // empty where it is not known
	Posture Posture `json:"posture"`
}

// Rider is the person whom a saddle is chosen for.
type Rider struct {
	MassKg     float64 // 0 where it is not known
	Complaints []Complaint
	Bikes      []Bike
}

// Advisor holds the shop's rules: what is chosen from, and how.
type Advisor struct {
	Allowances AllowanceTable
	Rule       Rule
	Damping    DampingTable
	Stock      Stock
}

// DefaultAdvisor advises by the default tables from the built-in example stock.
func DefaultAdvisor() Advisor {
	return Advisor{DefaultAllowanceTable(), DefaultRule(), DefaultDamping(), ExampleStock()}
}

// Recommendation is the saddle for one bike of a rider, and why.
type Recommendation struct {
	Bike        Bike        `json:"bike"`
	Requirement Requirement `json:"requirement"`
	Choice      Choice      `json:"choice"`
	// Models are the models of the chosen width, the best first; none where
	// the rule says to measure again, or outside the stock.
	Models []RankedModel `json:"models"`
	// AlternativeModels are those of the narrower width, between two sizes.
	AlternativeModels []RankedModel `json:"alternative_models,omitempty"`
	// Excluded are models of either width that must not be recommended.
	Excluded []ExcludedModel  `json:"excluded,omitempty"`
	Damping  DampingAdvice    `json:"damping"`
	Guides   []ComplaintGuide `json:"guides,omitempty"` // one per complaint
	Notes    []Note           `json:"notes,omitempty"`  // about the models as a whole
	Cautions []Note           `json:"cautions"`         // to be read wherever the recommendation is
}

// Best is the model to take, if there is one.
func (r Recommendation) Best() (RankedModel, bool) {
	if len(r.Models) == 0 {
		return RankedModel{}, false
	}
	return r.Models[0], true
}

// Equals are the models of the chosen width that no reason tells from the best, itself
// among them: only their names put them in order. One alone has no equals.
func (r Recommendation) Equals() []RankedModel {
	n := 0
	for n < len(r.Models) && r.Models[n].gradedAs(r.Models[0]) {
		n++
	}
	if n < 2 {
		return nil
	}
	return r.Models[:n]
}

// RunnerUp is the model to try next: between two sizes the best one itself in
// the other width where that is there, else the best of that width; otherwise
// the second of the chosen one.
func (r Recommendation) RunnerUp() (RankedModel, bool) {
	switch {
	case len(r.AlternativeModels) > 0:
		if best, ok := r.Best(); ok && best.Name != "" {
			for _, m := range r.AlternativeModels {
				if m.Name == best.Name {
					return m, true
				}
			}
		}
		return r.AlternativeModels[0], true
	case len(r.Models) > 1:
		return r.Models[1], true
	}
	return RankedModel{}, false
}

// A rider's mass beyond these, in kg, is a slip of the pen, or in pounds
// (assumed).
const minMassKg, maxMassKg = 20, 250

// Check says everything that is wrong with what is known of the rider.
func (r Rider) Check() error {
	var errs []error
	if r.MassKg != 0 && !(r.MassKg >= minMassKg && r.MassKg <= maxMassKg) {
		errs = append(errs, BadMass.With("kg", r.MassKg, "low", minMassKg, "high", maxMassKg))
	}
	for _, c := range r.Complaints {
		if _, err := ParseComplaint(string(c)); err != nil {
			errs = append(errs, err)
		}
	}
	if len(r.Bikes) == 0 {
		errs = append(errs, NoBike.With())
	}
	for _, b := range r.Bikes {
		if b.Use == "" {
			continue
		}
		if _, err := ParseUse(string(b.Use)); err != nil {
			errs = append(errs, BadBike.With("bike", b.Name, "why", err))
		}
	}
	return errors.Join(errs...)
}

// Width is the width alone, for a posture: what `size` prints. `measure` and
// Recommend go the same way, so that the same number gets the same answer.
func (a Advisor) Width(spacing gum.Estimate, p Posture) (Requirement, Choice, error) {
	q, err := Require(spacing, p, a.Allowances)
	if err != nil {
		return Requirement{}, Choice{}, err
	}
	c, err := a.Rule.Choose(q, a.Stock)
	return q, c, err
}

// Recommend gives one recommendation per bike, in the order of the bikes.
func (a Advisor) Recommend(spacing gum.Estimate, r Rider) ([]Recommendation, error) {
	if err := errors.Join(r.Check(), a.Damping.Validate()); err != nil {
		return nil, err
	}
	recs := make([]Recommendation, 0, len(r.Bikes))
	for _, b := range r.Bikes {
		rec, err := a.recommendFor(spacing, r, b)
		if err != nil {
			return nil, BadBike.With("bike", b.Name, "why", err)
		}
		recs = append(recs, rec)
	}
	return recs, nil
}

func (a Advisor) recommendFor(spacing gum.Estimate, r Rider, b Bike) (Recommendation, error) {
	q, c, err := a.Width(spacing, b.Posture)
	if err != nil {
		return Recommendation{}, err
	}
	rec := Recommendation{
		Bike: b, Requirement: q, Choice: c,
		Damping:  a.Damping.For(r.MassKg),
		Cautions: cautionsFor(r.Complaints),
	}
	for _, complaint := range r.Complaints {
		g, _ := ComplaintGuideFor(complaint)
		rec.Guides = append(rec.Guides, g)
	}
	a.rankInto(&rec, r)
	return rec, nil
}

// rankInto ranks the models of the chosen width, and between two sizes those
// of the other one.
func (a Advisor) rankInto(rec *Recommendation, r Rider) {
	c := rec.Choice
	if c.Verdict != Clear && c.Verdict != BetweenSizes {
		return
	}
	w := newWishes(*rec, r)
	rec.Models, rec.Excluded = w.rank(a.Stock, *c.WidthMM, a.Rule.Level)
	if c.Verdict == BetweenSizes {
		// At the narrower width the level is missed by definition; the support
		// has to hold the spacing as it was read.
		more, out := w.rank(a.Stock, *c.AlternativeMM, 0)
		rec.AlternativeModels, rec.Excluded = more, append(rec.Excluded, out...)
	}
	if len(rec.Models) == 0 && a.Stock.hasNames() {
		rec.Notes = append(rec.Notes, note("models.none_fit", "width", *c.WidthMM))
	}
}
