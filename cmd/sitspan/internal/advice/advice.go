// Package advice is the one place where a record gets its widths and saddles:
// a record, a rider and a shop's rules go in, the record with its
// recommendations comes out. `measure`, `sheet`, `explain` and the desk all go
// through it, so that the same number gets the same answer everywhere; `size`
// goes the same way through fit.
//
// Its opinion: nothing is chosen here. fit chooses; this package only turns
// what a record holds into what fit asks for, and fit's answer into what a
// record holds.
package advice

import (
	"encoding/json"
	"math"
	"slices"

	"sitspan/calibration/gum"
	"sitspan/cmd/sitspan/internal/record"
	"sitspan/cmd/sitspan/internal/words"
	"sitspan/fit"
)

// ErrNoSpacing is the error of a record that holds no spacing to choose by.
var ErrNoSpacing = words.Fault("error.no_spacing", nil)

// keptModels is how many models of a width a record keeps, and how many that
// were left out: more than a fitter tries.
const keptModels = 10

// Spacing is a measurement's spacing in mm with its budget, as fit takes it.
//
// Each line counts by its contribution to the spacing, which is what the record
// states; a measurement without lines counts by its expanded uncertainty and
// coverage factor (JCGM 100:2008, 4.3.3), that of the normal distribution where
// it states none.
func Spacing(m record.Measurement) (gum.Estimate, error) {
	if m.Spacing == nil {
		return gum.Estimate{}, ErrNoSpacing
	}
	e := gum.Estimate{Value: *m.Spacing}
	for _, l := range m.Budget {
		c := gum.Component{Source: l.Source, Std: l.U, Unit: "mm", Sensitivity: 1, DoF: math.Inf(1), Basis: l.Basis}
		if l.DoF != nil && *l.DoF > 0 {
			c.DoF = *l.DoF
		}
		e.Budget = append(e.Budget, c)
	}
	if len(e.Budget) > 0 {
		return e, nil
	}
	if m.U == nil {
		return gum.Estimate{}, words.Fault("error.no_u", nil)
	}
	k := gum.CoverageFactor(m.Coverage, math.Inf(1))
	if m.CoverageFactor != nil && *m.CoverageFactor > 0 {
		k = *m.CoverageFactor
	}
	e.Budget = gum.Budget{{Source: "spacing", Std: gum.Normal(*m.U, k), Unit: "mm", Sensitivity: 1,
		DoF: math.Inf(1), Basis: "stated with the spacing"}}
	return e, nil
}

// Width is the choice of width for one posture: what goes into `measure`'s
// object as "width".
func Width(m record.Measurement, a fit.Advisor, p fit.Posture) (fit.Choice, error) {
	spacing, err := Spacing(m)
	if err != nil {
		return fit.Choice{}, err
	}
	return WidthFor(spacing, a, p)
}

// WidthFor is Width for a spacing that no record holds: what `size` prints.
func WidthFor(spacing gum.Estimate, a fit.Advisor, p fit.Posture) (fit.Choice, error) {
	_, c, err := a.Width(spacing, p)
	c.EachNote(putInWords)
	return c, err
}

// putInWords gives a note its English sentence, so that who reads a record's
// JSON need not know the codes.
func putInWords(n *fit.Note) { n.Message = words.English.Note(n.Code, n.Params) }

// Recommend returns the record with one recommendation for each of the rider's
// bikes, made from the measurement that counts (record.Current), and with the
// first bike's width in that measurement. The record that was given stays as it
// is.
func Recommend(rec record.Record, a fit.Advisor, r fit.Rider) (record.Record, error) {
	m, _ := rec.Current()
	spacing, err := Spacing(m)
	if err != nil {
		return rec, err
	}
	recs, err := a.Recommend(spacing, r)
	if err != nil {
		return rec, err
	}
	for i := range recs {
		shorten(&recs[i])
		recs[i].EachNote(putInWords)
	}
	out := rec
	if out.Recommendations, err = json.Marshal(recs); err != nil {
		return rec, words.Fault("error.recommendations", words.Values{"why": err})
	}
	width, err := json.Marshal(recs[0].Choice)
	if err != nil {
		return rec, words.Fault("error.width", words.Values{"why": err})
	}
	out.Reviews = slices.Clone(rec.Reviews)
	if n := len(out.Reviews); n > 0 {
		out.Reviews[n-1].Measurement.Width = width
	} else {
		out.Measurement.Width = width
	}
	out.Settings = settings(rec.Settings, a, r.Bikes[0].Posture)
	return out, nil
}

// shorten keeps the first models of each list.
func shorten(r *fit.Recommendation) {
	r.Models = first(r.Models)
	r.AlternativeModels = first(r.AlternativeModels)
	r.Excluded = first(r.Excluded)
}

func first[T any](list []T) []T { return list[:min(len(list), keptModels)] }

// settings notes what the choice was made under.
func settings(s record.Settings, a fit.Advisor, p fit.Posture) record.Settings {
	s.TrunkDeg, s.TrunkU, s.AllowanceMM = nil, nil, nil
	if deg, u, ok := p.TrunkDeg(); ok {
		s.TrunkDeg, s.TrunkU = &deg, &u
	} else if allowance, err := p.Allowance(a.Allowances); err == nil {
		s.AllowanceMM = &allowance.MM
	}
	s.Stock, s.Level = a.Stock.Name, a.Rule.Level
	return s
}

// RiderOf is the rider that a record's recommendations were made for, as far as
// the record tells: the bikes, the complaints, and the mass where a sentence
// mentions it. A record that holds a width only tells its posture.
func RiderOf(rec record.Record) (fit.Rider, error) {
	var r fit.Rider
	if len(rec.Recommendations) > 0 {
		var recs []fit.Recommendation
		if err := json.Unmarshal(rec.Recommendations, &recs); err != nil {
			return r, words.Fault("error.record.recommendations", words.Values{"why": err})
		}
		for _, a := range recs {
			r.Bikes = append(r.Bikes, a.Bike)
		}
		if len(recs) > 0 {
			for _, g := range recs[0].Guides {
				r.Complaints = append(r.Complaints, g.Complaint)
			}
			r.MassKg, _ = recs[0].Damping.Note.Params["mass"].(float64)
		}
	}
	if len(r.Bikes) == 0 {
		r.Bikes = bikeOf(rec.Settings)
	}
	return r, nil
}

// bikeOf is the one bike of a record whose settings hold a posture.
func bikeOf(s record.Settings) []fit.Bike {
	switch {
	case s.TrunkDeg != nil:
		u := 0.0
		if s.TrunkU != nil {
			u = *s.TrunkU
		}
		return []fit.Bike{{Posture: fit.TrunkAngle(*s.TrunkDeg, u)}}
	case s.AllowanceMM != nil:
		return []fit.Bike{{Posture: fit.AllowanceByHand(*s.AllowanceMM, 0)}}
	}
	return nil
}
