package desk

import (
	"errors"
	"net/http"
	"strconv"
	"strings"

	"sitspan/cmd/sitspan/internal/known"
	"sitspan/cmd/sitspan/internal/proof"
	"sitspan/cmd/sitspan/internal/report"
	"sitspan/cmd/sitspan/internal/shop"
	"sitspan/cmd/sitspan/internal/store"
	"sitspan/cmd/sitspan/internal/words"
)

// proofRoutes are the screens of the shop's own proof.
func (d *Desk) proofRoutes(page func(string, func(http.ResponseWriter, *http.Request) error)) {
	page("GET /proof", d.proofPage)
	page("POST /proof", d.newCheck)
	page("POST /proof/correct", d.saveCorrection)
	page("GET /proof/{id}", d.checkPage)
	page("POST /proof/{id}/leave-out", d.leaveOutCheck)
}

// due tells whether the number is to be checked anew: for the pad and the phone of the latest measurement,
// under the print that is in use now.
func (d *Desk) due(r *http.Request) (proof.Reason, error) {
	checks := d.checks(r.Context())
	var now proof.Setting
	medium := ""
	k, err := d.store.LatestRecord(r.Context())
	if errors.Is(err, store.ErrNotFound) {
		err = nil
		if last := proof.Last(checks); last != nil { // no rider yet: what the last check was made with
			now.Pad, now.Phone = last.Of.Pad, last.Of.Phone
			medium = d.shopNow().Pads[last.Of.Pad].Medium
		}
	} else {
		medium = k.Record.Measurement.Medium
		now.Pad, now.Phone = proof.PadKey(k.Record.Settings.Pad, medium), known.CameraOf(k.Record)
	}
	now.Print = d.shopNow().PrintKey(medium)
	return proof.DueOf(checks, now, today()), err
}

// today is the clock of what grows old, for tests.
var today = now

// checkLine is a check in the list.
type checkLine struct {
	store.Check
	Deviation string // measured minus known, mm, with its sign; empty without a number
	Number    bool
	Short     string // what it says, in some words
	Passed    bool
	PadTitle  string
}

func lineOf(lang words.Lang, c store.Check) checkLine {
	l := checkLine{Check: c, Number: c.MeasuredMM != nil && c.MeasuredU != nil, PadTitle: padTitle(lang, c.Pad)}
	if l.Number {
		l.Deviation = lang.Signed(*c.MeasuredMM-c.DistanceMM, 1)
	}
	v := proof.Verdict(c.Verdict)
	l.Passed = v.Trusted()
	switch {
	case l.Passed, v == proof.PassedWide, v == proof.NoNumber, v == proof.Lens:
		l.Short = say(lang, "proof.short."+string(v))
	default:
		l.Short = say(lang, "proof.short.failed")
	}
	return l
}

// padProof is the chart of one pad with what it says.
type padProof struct {
	Title string
	Chart *chart
	Texts []string
}

// proofData is what the page of the shop's proof shows.
type proofData struct {
	form
	Last    string
	Due     proof.Reason
	Pads    []padProof
	Checks  []checkLine // the latest first
	Names   []padLine   // pads to choose from
	Correct bool
}

func (d *Desk) proofPage(w http.ResponseWriter, r *http.Request) error {
	list, err := d.store.Checks(r.Context())
	if err != nil {
		return err
	}
	lang, s := language(r), d.shopNow()
	kept := d.checks(r.Context())
	data := proofData{form: d.newForm(r), Last: report.LastCheck(lang, proof.Last(kept)),
		Correct: s.CorrectByChecks}
	data.Values["u"] = lang.Plain(known.DefaultU)
	if data.Due, err = d.due(r); err != nil {
		return err
	}
	for _, c := range list {
		data.Checks = append([]checkLine{lineOf(lang, c)}, data.Checks...)
	}
	for _, name := range padNames(s) {
		data.Names = append(data.Names, padLine{Name: name, Title: padTitle(lang, name)})
	}
	data.Pads = padProofs(lang, list)
	return d.show(w, r, "proof", frame{Title: d.say(r, "proof.title"), Data: data})
}

// padProofs are the charts, a pad each, in the order of the pads' first checks.
func padProofs(lang words.Lang, list []store.Check) (all []padProof) {
	at := map[string]int{}
	var of [][]store.Check
	for _, c := range list {
		if c.MeasuredMM == nil || c.MeasuredU == nil || !c.Accepted && c.LeftOut == "" {
			continue
		}
		i, seen := at[c.Pad]
		if !seen {
			i = len(of)
			at[c.Pad], of = i, append(of, nil)
		}
		of[i] = append(of[i], c)
	}
	for _, checks := range of {
		p := padProof{Title: say(lang, "proof.chart", "pad", padTitle(lang, checks[0].Pad))}
		p.Chart, p.Texts = chartOf(lang, checks)
		all = append(all, p)
	}
	return all
}

// checkData is what one check's page shows.
type checkData struct {
	form
	checkLine
	Said    string
	OneBall bool
	DeepMM  float64 // of a dent too shallow to tell unequal balls; else 0
	Deep    int     // and how deep it should be, mm
	LikeMM  float64 // of balls that would leave such dents, where another diameter was said; else 0
	New     bool
}

func (d *Desk) checkOf(r *http.Request) (c store.Check, err error) {
	id, err := idOf(r)
	if err != nil {
		return c, err
	}
	list, err := d.store.Checks(r.Context())
	if err != nil {
		return c, err
	}
	for _, c := range list {
		if c.ID == id {
			return c, nil
		}
	}
	return c, store.ErrNotFound
}

func (d *Desk) showCheck(w http.ResponseWriter, r *http.Request, status int, c store.Check, f form) error {
	k := c.Kept()
	scale, lang := 0.0, language(r)
	if c.MeasuredMM != nil {
		scale, _ = k.PrintScale()
	}
	noted := func(name string) float64 { // 0 for what is no number
		mm, _ := strconv.ParseFloat(r.URL.Query().Get(name), 64)
		return mm
	}
	said := lang.Say("known.verdict."+c.Verdict, words.Values{"measured": k.MeasuredMM, "u": k.MeasuredU,
		"distance": k.DistanceMM, "scale": 100 * scale})
	return d.showStatus(w, r, status, "proof-check", frame{Title: d.say(r, "proof.check", "n", c.ID),
		Here: r.URL.Path, Data: checkData{form: f, checkLine: lineOf(lang, c), Said: said,
			OneBall: r.URL.Query().Has("one"), LikeMM: noted("like"), DeepMM: noted("deep"),
			Deep: known.DeepEnough, New: r.URL.Query().Has("new")}})
}

func (d *Desk) checkPage(w http.ResponseWriter, r *http.Request) error {
	c, err := d.checkOf(r)
	if err != nil {
		return err
	}
	return d.showCheck(w, r, http.StatusOK, c, d.newForm(r))
}

// leaveOutCheck leaves a check out, with a reason, or lets it count again.
func (d *Desk) leaveOutCheck(w http.ResponseWriter, r *http.Request) error {
	c, err := d.checkOf(r)
	if err != nil {
		return err
	}
	f := d.typedForm(r)
	why := strings.Join(strings.Fields(f.text("why", "proof.why", 200)), " ")
	if f.Values["count"] == "again" {
		why = ""
	} else if why == "" {
		f.Faults["why"] = say(f.lang, "proof.why.needed")
	}
	if !f.good() {
		return d.showCheck(w, r, http.StatusUnprocessableEntity, c, f)
	}
	if err := d.store.LeaveOutCheck(r.Context(), c.ID, why); err != nil {
		return err
	}
	return redirect(w, r, "/proof")
}

// saveCorrection says whether a proved deviation is taken off.
func (d *Desk) saveCorrection(w http.ResponseWriter, r *http.Request) error {
	correct := r.PostFormValue("correct") == "yes"
	err := d.saveShop(d.shopSeen(), func(path string) error { return shop.SaveCorrection(path, correct) })
	if err != nil {
		return err
	}
	return redirect(w, r, "/proof?saved")
}
