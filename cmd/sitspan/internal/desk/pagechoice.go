package desk

import (
	"cmp"
	"encoding/json"
	"errors"
	"fmt"
	"net/http"
	"slices"
	"strconv"
	"strings"

	"sitspan/cmd/sitspan/internal/advice"
	"sitspan/cmd/sitspan/internal/record"
	"sitspan/cmd/sitspan/internal/report"
	"sitspan/cmd/sitspan/internal/store"
	"sitspan/cmd/sitspan/internal/words"
	"sitspan/fit"
)

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

// choiceData is what the choice's page shows.
type choiceData struct {
	M *record.Measurement
	standing
	Bikes    []bikeChoice
	Without  []store.Bike
	Missing  string // what is missing before a choice can be made
	Currency string
	Paper    report.Paper // of the last sheet
	Made     bool         // a sheet says what counts
	Conflict []difference // what another window took meanwhile
}

func (d *Desk) choicePage(w http.ResponseWriter, r *http.Request) error {
	v, err := d.visitOf(r)
	if err != nil {
		return err
	}
	return d.showChoice(w, r, v, saddleConflict{})
}

// saddleConflict is what this window would keep of a bike's saddle where another window kept something else
// meanwhile; a Place of 0 is none.
type saddleConflict struct {
	Place       int
	Taken, Said string // one of both
}

func (d *Desk) showChoice(w http.ResponseWriter, r *http.Request, v store.Visit, c saddleConflict) error {
	data, status := choiceData{Paper: paperOf(r)}, http.StatusOK
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
	for _, b := range v.Bikes {
		if b.Posture.TrunkDeg == nil && b.Posture.AllowanceMM == nil {
			data.Without = append(data.Without, b)
		} else if len(data.Bikes) < len(recs) { // one each, in their order
			data.Bikes = append(data.Bikes, choiceFor(b, recs[len(data.Bikes)]))
		}
		if b.Place == c.Place {
			status = http.StatusConflict
			data.Conflict = c.differences(b, language(r))
			if n := len(data.Bikes); n > 0 && c.Said != "" {
				data.Bikes[n-1].Ours = c.Said
			}
		}
	}
	if stock, err := d.shopNow().Stock(); err == nil {
		data.Currency = stock.Currency
	}
	if data.Made, err = d.hasSheet(r, v); err != nil {
		return err
	}
	return d.showStatus(w, r, status, "choice", frame{Title: v.Alias, Step: 3, Visit: &v, Data: data,
		Here: fmt.Sprintf("/visits/%d/choice", v.ID)})
}

// differences are both values.
func (c saddleConflict) differences(b store.Bike, lang words.Lang) []difference {
	if c.Said != "" {
		return []difference{{say(lang, "saddle.test", "saddle", b.Saddle.Named()), c.Said, orDash(b.Saddle.Test)}}
	}
	return []difference{{say(lang, "saddle.taken"), orDash(c.Taken), orDash(b.Saddle.Named())}}
}

// hasSheet says whether a sheet says what counts now.
func (d *Desk) hasSheet(r *http.Request, v store.Visit) (bool, error) {
	sheets, err := d.store.Sheets(r.Context(), v.ID)
	if err != nil {
		return false, err
	}
	holds, err := d.holding(r, v)
	return err == nil && slices.ContainsFunc(sheets, holds), err
}

// takeSaddle keeps which saddle the rider takes for a bike; none where no name is given.
func (d *Desk) takeSaddle(w http.ResponseWriter, r *http.Request) error {
	v, place, err := d.bikeOf(r)
	if err != nil {
		return err
	}
	var taken *store.Taken
	if name := r.PostFormValue("name"); name != "" {
		taken = &store.Taken{Name: name}
		_, err := fmt.Sscan(r.PostFormValue("width"), &taken.WidthMM)
		if err != nil || !d.offers(r, v, place, *taken) {
			return &refusal{http.StatusConflict, d.say(r, "saddle.gone")}
		}
	}
	err = d.store.TakeSaddle(r.Context(), v.ID, place, r.PostFormValue("seen"), taken)
	if errors.Is(err, store.ErrChanged) {
		return d.conflictOf(w, r, saddleConflict{Place: place, Taken: store.Saddle{Taken: taken}.Named()})
	} else if err != nil {
		return err
	}
	return redirect(w, r, fmt.Sprintf("/visits/%d/choice#bike%d", v.ID, place))
}

// mostSaid bounds what is said of a saddle, characters.
const mostSaid = 500

// keepRideTest keeps what a ride said of the saddle that the rider takes.
func (d *Desk) keepRideTest(w http.ResponseWriter, r *http.Request) error {
	v, place, err := d.bikeOf(r)
	if err != nil {
		return err
	}
	said := strings.TrimSpace(r.PostFormValue("said"))
	if len([]rune(said)) > mostSaid {
		return &refusal{http.StatusUnprocessableEntity, d.say(r, "note.long", "most", mostSaid)}
	}
	err = d.store.KeepRideTest(r.Context(), v.ID, place, r.PostFormValue("was"), said)
	if errors.Is(err, store.ErrChanged) {
		return d.conflictOf(w, r, saddleConflict{Place: place, Said: cmp.Or(said, "–")})
	} else if err != nil {
		return err
	}
	return redirect(w, r, fmt.Sprintf("/visits/%d/choice#bike%d", v.ID, place))
}

// conflictOf shows both values, as they are now and as this window has them.
func (d *Desk) conflictOf(w http.ResponseWriter, r *http.Request, c saddleConflict) error {
	v, err := d.visitOf(r)
	if err != nil {
		return err
	}
	return d.showChoice(w, r, v, c)
}

// bikeOf is the bike that a route names: its visit, and its place there from 1.
func (d *Desk) bikeOf(r *http.Request) (v store.Visit, place int, err error) {
	if v, err = d.visitOf(r); err != nil {
		return v, 0, err
	}
	place, err = strconv.Atoi(r.PathValue("place"))
	if err != nil || place < 1 || place > len(v.Bikes) {
		return v, 0, store.ErrNotFound
	}
	return v, place, nil
}

// offers says whether the page offers a saddle for a bike.
func (d *Desk) offers(r *http.Request, v store.Visit, place int, t store.Taken) bool {
	_, recs, err := d.chosen(r, v)
	if err != nil {
		return false
	}
	i := 0
	for _, b := range v.Bikes {
		has := b.Posture.TrunkDeg != nil || b.Posture.AllowanceMM != nil
		if b.Place == place && has {
			return slices.ContainsFunc(slices.Concat(recs[i].Models, recs[i].AlternativeModels),
				func(m fit.RankedModel) bool { return m.Name == t.Name && m.WidthMM == t.WidthMM })
		}
		if has {
			i++
		}
	}
	return false
}
