package desk

import (
	"errors"
	"fmt"
	"math"
	"net/http"
	"strconv"
	"strings"

	"sitspan/cmd/sitspan/internal/record"
	"sitspan/cmd/sitspan/internal/store"
	"sitspan/cmd/sitspan/internal/words"
	"sitspan/fit"
)

// bikeForm is a bike as it was typed.
type bikeForm struct {
	Name, Use, Trunk, TrunkU, Allowance, Basis string

	Ridden, Rode string // the saddle so far
	Place        string // among the bikes that are kept, from 1; empty for a new one
}

// visitForm is the visit as it was typed.
type visitForm struct {
	Mass, Note string
	Complaints []string
	Bikes      []bikeForm
	Faults     faults
	Last       *past // the rider's visit before this one
	Filled     bool  // from that one, and by nobody since
	Old        since // what was changed after this visit's number was made
	Number     *record.Measurement
	Version    int // of the visit that the form was filled in for
	Conflict   []difference
	Uses       []fit.Use
	All        []fit.Complaint
}

// defaultTrunkU is the standard uncertainty in degrees of a trunk angle that a
// fitter types (assumed: an inclinometer on a clothed back).
const defaultTrunkU = 3.0

func formOf(v store.Visit, lang words.Lang) visitForm {
	f := visitForm{Version: v.Version, Note: v.Note, Complaints: v.Complaints, Uses: fit.Uses(),
		All: fit.Complaints()}
	if v.MassKg > 0 {
		f.Mass = lang.Plain(v.MassKg)
	}
	for _, b := range v.Bikes {
		p := bikeForm{Name: b.Name, Use: b.Use, Basis: b.Posture.Basis, Ridden: b.Saddle.Ridden,
			Rode: b.Saddle.Rode, Place: fmt.Sprint(b.Place)}
		if b.Posture.TrunkDeg != nil {
			p.Trunk, p.TrunkU = lang.Plain(*b.Posture.TrunkDeg), lang.Plain(b.Posture.TrunkU)
		}
		if b.Posture.AllowanceMM != nil {
			p.Allowance = lang.Plain(*b.Posture.AllowanceMM)
		}
		f.Bikes = append(f.Bikes, p)
	}
	if len(f.Bikes) == 0 {
		f.Bikes = []bikeForm{{}}
	}
	return f
}

func (d *Desk) visitPage(w http.ResponseWriter, r *http.Request) error {
	v, err := d.visitOf(r)
	if err != nil {
		return err
	}
	f := formOf(v, language(r))
	if r.URL.Query().Has("more") {
		f.Bikes = append(f.Bikes, bikeForm{})
	}
	if err := d.addLast(r, v, &f); err != nil {
		return err
	}
	return d.show(w, r, "visit", frame{Title: v.Alias, Step: 1, Visit: &v, Data: f})
}

// addLast adds the rider's visit before this one, and what was changed after this one's number.
func (d *Desk) addLast(r *http.Request, v store.Visit, f *visitForm) error {
	s, err := d.standingOf(r, v)
	if err != nil {
		return err
	}
	if f.Old = s.Old; s.Number.Spacing != nil {
		f.Number = &s.Number
	}
	visits, err := d.store.Visits(r.Context(), v.RiderID)
	if err != nil {
		return err
	}
	for _, old := range visits { // the latest first
		if old.ID < v.ID {
			p, err := d.pastOf(r, old)
			f.Last, f.Filled = &p, v.Version == 1
			return err
		}
	}
	return nil
}

func (d *Desk) saveVisit(w http.ResponseWriter, r *http.Request) error {
	v, err := d.visitOf(r)
	if err != nil {
		return err
	}
	f := readVisitForm(r)
	kept := v
	if err := d.addLast(r, v, &f); err != nil {
		return err
	}
	if f.Faults = f.into(&v, language(r)); len(f.Faults) > 0 {
		return d.showStatus(w, r, http.StatusUnprocessableEntity, "visit",
			frame{Title: v.Alias, Step: 1, Visit: &v, Data: f})
	}
	v.Version = f.Version
	if err := d.store.SaveVisit(r.Context(), v); errors.Is(err, store.ErrChanged) {
		f.Conflict, f.Version = differences(v, kept, language(r)), kept.Version
		return d.showStatus(w, r, http.StatusConflict, "visit", frame{Title: v.Alias, Step: 1, Visit: &v, Data: f})
	} else if err != nil {
		return err
	}
	if r.PostFormValue("go") == "more" {
		return redirect(w, r, fmt.Sprintf("/visits/%d?more#bikes", v.ID))
	}
	if err := d.askIdlePhone(r, v.ID); err != nil {
		return err
	}
	return redirect(w, r, fmt.Sprintf("/visits/%d/imprint", v.ID))
}

// askIdlePhone asks the shop's only phone to come to a visit, where the one that it photographs for is
// done. It still has to say yes.
func (d *Desk) askIdlePhone(r *http.Request, visit int64) error {
	var phones []device
	for _, dev := range d.pairs.list() {
		if dev.May == mayPhotograph {
			phones = append(phones, dev)
		}
	}
	if d.lan == nil || len(phones) != 1 || phones[0].Visit == visit || !d.isDone(r, phones[0].Visit) {
		return nil
	}
	_, err := d.pairs.change(phones[0].ID, func(dev *device) { dev.Asked = visit })
	return err
}

// isDone says whether a visit needs no further photo: its number is confirmed, or it is gone.
func (d *Desk) isDone(r *http.Request, visit int64) bool {
	v, err := d.store.Visit(r.Context(), visit)
	if err != nil {
		return errors.Is(err, store.ErrNotFound)
	}
	s, err := d.standingOf(r, v)
	return err == nil && v.Current != 0 && !s.Open()
}

// difference is a field in which two windows differ.
type difference struct{ Name, Ours, Theirs string }

// differences are what two windows say of a visit where they differ.
func differences(ours, theirs store.Visit, lang words.Lang) (list []difference) {
	add := func(key string, of func(store.Visit) string) {
		if a, b := of(ours), of(theirs); a != b {
			list = append(list, difference{say(lang, key), orDash(a), orDash(b)})
		}
	}
	add("mass", func(v store.Visit) string {
		if v.MassKg == 0 {
			return ""
		}
		return lang.Plain(v.MassKg) + " kg"
	})
	add("note", func(v store.Visit) string { return v.Note })
	add("complaints", func(v store.Visit) string {
		var texts []string
		for _, c := range v.Complaints {
			texts = append(texts, capital(lang.Term(c)))
		}
		return strings.Join(texts, ", ")
	})
	add("bikes", func(v store.Visit) string {
		var texts []string
		for _, b := range v.Bikes {
			texts = append(texts, bikeText(b, lang))
		}
		return strings.Join(texts, "; ")
	})
	add("saddle.ridden", func(v store.Visit) string {
		var texts []string
		for _, b := range v.Bikes {
			if s := b.Saddle; s.Ridden != "" || s.Rode != "" {
				texts = append(texts, orDash(s.Ridden)+": "+orDash(s.Rode))
			}
		}
		return strings.Join(texts, "; ")
	})
	return list
}

// bikeText says a bike in a line.
func bikeText(b store.Bike, lang words.Lang) string {
	texts := []string{}
	if b.Name != "" {
		texts = append(texts, b.Name)
	}
	if b.Use != "" {
		texts = append(texts, lang.Term(b.Use))
	}
	if p := b.Posture; p.TrunkDeg != nil {
		texts = append(texts, lang.Plain(*p.TrunkDeg)+"° ± "+lang.Plain(p.TrunkU)+"°")
	} else if p.AllowanceMM != nil {
		texts = append(texts, lang.Plain(*p.AllowanceMM)+" mm")
	}
	return strings.Join(texts, ", ")
}

func orDash(s string) string {
	if s == "" {
		return "–"
	}
	return s
}

// mostBikes bounds a visit.
const mostBikes = 8

func readVisitForm(r *http.Request) visitForm {
	r.ParseForm() // the body was read for the token; what is damaged is missing
	version, err := strconv.Atoi(r.PostForm.Get("version"))
	if err != nil {
		version = 0 // of no visit: then both values are shown
	}
	f := visitForm{Version: version, Mass: r.PostForm.Get("mass"), Note: r.PostForm.Get("note"),
		Complaints: r.PostForm["complaint"], Uses: fit.Uses(), All: fit.Complaints()}
	at := func(name string, i int) string {
		if list := r.PostForm[name]; i < len(list) {
			return strings.TrimSpace(list[i])
		}
		return ""
	}
	for i := range min(len(r.PostForm["bike_trunk"]), mostBikes) {
		f.Bikes = append(f.Bikes, bikeForm{at("bike_name", i), at("bike_use", i), at("bike_trunk", i),
			at("bike_trunk_u", i), at("bike_allowance", i), at("bike_basis", i), at("bike_ridden", i),
			at("bike_rode", i), at("bike_place", i)})
	}
	return f
}

// into checks what was typed and puts it into the visit.
func (f visitForm) into(v *store.Visit, lang words.Lang) faults {
	var wrong faults
	var err error
	if v.MassKg, err = typed(f.Mass, say(lang, "mass"), "kg", 20, 250, 0, lang); err != nil {
		wrong.add(lang, "mass", err)
	}
	v.Note = strings.TrimSpace(f.Note)
	if len([]rune(v.Note)) > 2000 {
		wrong.add(lang, "note", words.Fault("desk.note.long", words.Values{"most": 2000}))
	}
	v.Complaints = []string{}
	for _, c := range f.Complaints {
		known, err := fit.ParseComplaint(c)
		if err != nil {
			wrong.add(lang, "complaints", err)
			continue
		}
		v.Complaints = append(v.Complaints, string(known))
	}
	v.Bikes = nil
	for i, b := range f.Bikes {
		if b.Name == "" && b.Trunk == "" && b.Allowance == "" && b.Ridden == "" {
			continue // a row that nobody filled in
		}
		v.Bikes = append(v.Bikes, b.bike(lang, func(field string, err error) {
			wrong.add(lang, fmt.Sprint(field, i), err)
		}))
	}
	return wrong
}

// bike is a row as a bike; fault hears of what is wrong with a field.
func (b bikeForm) bike(lang words.Lang, fault func(field string, err error)) store.Bike {
	out := store.Bike{Name: b.Name, Saddle: store.Saddle{Ridden: cutTo(b.Ridden, mostSaid), Rode: cutTo(b.Rode,
		mostSaid)}}
	out.Place, _ = strconv.Atoi(b.Place) // none is a new bike
	if b.Use != "" {
		use, err := fit.ParseUse(b.Use)
		if err != nil {
			fault("use", err)
		}
		out.Use = string(use)
	}
	switch {
	case b.Trunk != "" && b.Allowance != "":
		fault("allow", words.Fault("desk.posture.both", nil))
	case b.Allowance != "":
		mm, err := typed(b.Allowance, say(lang, "allowance"), "mm", 0, 100, 0, lang)
		if err != nil {
			fault("allow", err)
		}
		out.Posture = store.Posture{AllowanceMM: &mm}
	case b.Trunk != "":
		deg, err := typed(b.Trunk, say(lang, "trunk"), "°", -20, 120, 0, lang)
		if err != nil {
			fault("trunk", err)
		}
		u, err := typed(b.TrunkU, say(lang, "trunk.u"), "°", 0, 45, defaultTrunkU, lang)
		if err != nil {
			fault("trunku", err)
		}
		out.Posture = store.Posture{TrunkDeg: &deg, TrunkU: u, Basis: "typed"}
		if b.Basis == "side photo" {
			out.Posture.Basis = b.Basis
		}
	}
	return out
}

// cutTo is a text of at most so many characters: what a field lets in.
func cutTo(text string, most int) string {
	if r := []rune(text); len(r) > most {
		return string(r[:most])
	}
	return text
}

// typed reads a number as people type it; an empty text gives fallback.
func typed(text, what, unit string, low, high, fallback float64, lang words.Lang) (float64, error) {
	text = strings.TrimSpace(strings.TrimSuffix(strings.TrimSpace(text), unit))
	if text == "" {
		return fallback, nil
	}
	v, err := strconv.ParseFloat(strings.NewReplacer(",", ".", "−", "-").Replace(text), 64)
	if err != nil || math.IsNaN(v) || v < low || v > high {
		return 0, words.Fault("desk.typed.range",
			words.Values{"what": what, "typed": text, "low": low, "high": high, "unit": apart(unit)})
	}
	return v, nil
}

// apart is a unit as it stands behind a number.
func apart(unit string) string {
	if unit == "°" {
		return unit
	}
	return " " + unit
}

// trunkAngle reckons the trunk's angle from what was clicked on a side photo.
// The photo itself never leaves the browser.
func (d *Desk) trunkAngle(w http.ResponseWriter, r *http.Request) error {
	var s sidePhoto
	if err := readJSON(r, &s); err != nil {
		return err
	}
	deg, u, err := s.trunk()
	if err != nil {
		return &refusal{http.StatusUnprocessableEntity, d.say(r, err.Error())}
	}
	lang := language(r)
	return writeJSON(w, http.StatusOK, map[string]string{
		"deg": lang.Plain(deg), "u": lang.Plain(u),
		"text": say(lang, "trunk.read", "angle", lang.Number(deg, 0), "u", lang.Number(u, 0)),
	})
}

// riderOf is what fit asks for.
func riderOf(v store.Visit) fit.Rider {
	r := fit.Rider{MassKg: v.MassKg}
	for _, c := range v.Complaints {
		r.Complaints = append(r.Complaints, fit.Complaint(c))
	}
	for _, b := range v.Bikes {
		bike := fit.Bike{Name: b.Name, Use: fit.Use(b.Use)}
		switch p := b.Posture; {
		case p.TrunkDeg != nil:
			bike.Posture = fit.TrunkAngle(*p.TrunkDeg, p.TrunkU)
		case p.AllowanceMM != nil:
			bike.Posture = fit.AllowanceByHand(*p.AllowanceMM, 0)
		default:
			continue // without a posture no width is chosen
		}
		r.Bikes = append(r.Bikes, bike)
	}
	return r
}
