package desk

import (
	"encoding/json"
	"errors"
	"math"
	"net/http"

	"sitspan/cmd/sitspan/internal/advice"
	"sitspan/cmd/sitspan/internal/record"
	"sitspan/cmd/sitspan/internal/store"
	"sitspan/cmd/sitspan/internal/words"
	"sitspan/fit"
)

// step is one stocked width in the picture of the distribution.
type step struct {
	WidthMM float64
	Share   float64 // probability that this is the smallest width that holds
	Within  float64 // P(required <= width)
	Chosen  bool
	Other   bool
	X, H    float64 // of its bar, in the drawing's units
}

// The drawing of the distribution, its units.
const (
	barSlot = 64.0
	barFull = 120.0 // of a share of 1
)

// bikeChoice is one bike's part of the page.
type bikeChoice struct {
	fit.Recommendation
	Steps []step
	Width float64 // of the drawing
	Best  *fit.RankedModel
}

func stepsOf(c fit.Choice) (steps []step) {
	before := 0.0
	for i, w := range c.Widths {
		s := step{WidthMM: w.WidthMM, Share: math.Max(0, w.Probability-before), Within: w.Probability,
			X: float64(i) * barSlot}
		s.Chosen = c.WidthMM != nil && *c.WidthMM == w.WidthMM
		s.Other = c.AlternativeMM != nil && *c.AlternativeMM == w.WidthMM
		s.H = s.Share * barFull
		before = w.Probability
		steps = append(steps, s)
	}
	return steps
}

// chosen is a visit's current record with the recommendations for its bikes.
func (d *Desk) chosen(r *http.Request, v store.Visit) (rec record.Record, recs []fit.Recommendation,
	err error) {
	if v.Current == 0 {
		return rec, nil, advice.ErrNoSpacing
	}
	k, err := d.store.Record(r.Context(), v.Current)
	if err != nil {
		return rec, nil, err
	}
	rec = k.Record
	rec.Alias = v.Alias
	rider := riderOf(v)
	if m, _ := rec.Current(); m.Spacing == nil {
		return rec, nil, advice.ErrNoSpacing
	}
	if len(rider.Bikes) == 0 {
		return rec, nil, errNoPosture
	}
	advisor, err := d.shopNow().Advisor()
	if err != nil {
		return rec, nil, err
	}
	if rec, err = advice.Recommend(rec, advisor, rider); err != nil {
		return rec, nil, err
	}
	return rec, recs, json.Unmarshal(rec.Recommendations, &recs)
}

var errNoPosture = words.Fault("error.desk.no_posture", nil)

func (d *Desk) choicePage(w http.ResponseWriter, r *http.Request) error {
	v, err := d.visitOf(r)
	if err != nil {
		return err
	}
	data := struct {
		M *record.Measurement
		standing
		Bikes    []bikeChoice
		Without  []store.Bike
		Missing  string // what is missing before a choice can be made
		Currency string
	}{}
	rec, recs, err := d.chosen(r, v)
	switch {
	case errors.Is(err, advice.ErrNoSpacing):
		data.Missing = "choice.no.spacing"
	case errors.Is(err, errNoPosture):
		data.Missing = "choice.no.posture"
	case err != nil:
		return err
	}
	if m, _ := rec.Current(); m.Spacing != nil {
		data.M = &m
	}
	if data.standing, err = d.standingOf(r, v); err != nil {
		return err
	}
	for _, c := range recs {
		b := bikeChoice{Recommendation: c, Steps: stepsOf(c.Choice)}
		b.Width = barSlot * float64(len(b.Steps))
		if best, ok := c.Best(); ok {
			b.Best = &best
		}
		data.Bikes = append(data.Bikes, b)
	}
	for _, b := range v.Bikes {
		if b.Posture.TrunkDeg == nil && b.Posture.AllowanceMM == nil {
			data.Without = append(data.Without, b)
		}
	}
	if stock, err := d.shopNow().Stock(); err == nil {
		data.Currency = stock.Currency
	}
	return d.show(w, r, "choice", frame{Title: v.Alias, Step: 3, Visit: &v, Data: data})
}
