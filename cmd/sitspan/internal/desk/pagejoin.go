package desk

import (
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"maps"
	"net/http"
	"slices"
	"strings"

	"sitspan/cmd/sitspan/internal/shop"
	"sitspan/cmd/sitspan/internal/store"
	"sitspan/cmd/sitspan/internal/words"
)

// padNames lists the shop's pad profiles.
func padNames(s shop.Shop) []string { return slices.Sorted(maps.Keys(s.Pads)) }

// setUpForm is how the imprint is measured, as it was typed.
type setUpForm struct{ Pad, Left, Right, Was string }

func setUpOf(v store.Visit, lang words.Lang) setUpForm {
	was, err := json.Marshal(v.SetUp)
	if err != nil {
		was = nil // the page is then told to be too old
	}
	f := setUpForm{Pad: v.SetUp.Pad, Was: string(was)}
	if dd := v.SetUp.DepthMM; len(dd) > 0 {
		f.Left, f.Right = lang.Plain(dd[0]), lang.Plain(dd[len(dd)-1])
	}
	return f
}

// saveSetUp keeps the pad and the gauge's readings, and measures all photos of
// the visit anew under them. What was measured before stays.
func (d *Desk) saveSetUp(w http.ResponseWriter, r *http.Request) error {
	v, err := d.visitOf(r)
	if err != nil {
		return err
	}
	lang := language(r)
	pad := r.PostFormValue("pad")
	if _, known := d.shopNow().Pads[pad]; !known && pad != "" {
		return &refusal{http.StatusUnprocessableEntity, fmt.Sprintf("there is no pad %q", pad)}
	}
	set := store.SetUp{Pad: pad}
	if pad != "" {
		set.Medium = map[string]string{shop.Paper: "paper"}[d.shopNow().Pads[pad].Medium]
	}
	left, right := strings.TrimSpace(r.PostFormValue("left")), strings.TrimSpace(r.PostFormValue("right"))
	if left == "" {
		left = right
	}
	if right == "" {
		right = left
	}
	if left != "" && set.Medium != "paper" {
		l, err := typed(left, say(lang, "depth.left"), "mm", 0, 60, 0, lang)
		if err != nil {
			return atField(http.StatusUnprocessableEntity, faultText(lang, err), "dl")
		}
		q, err := typed(right, say(lang, "depth.right"), "mm", 0, 60, 0, lang)
		if err != nil {
			return atField(http.StatusUnprocessableEntity, faultText(lang, err), "dr")
		}
		set.DepthMM = []float64{l, q}
	}
	var was store.SetUp
	if err := json.Unmarshal([]byte(r.PostFormValue("was")), &was); err != nil {
		return &refusal{http.StatusBadRequest, d.say(r, "page.old")}
	}
	if err := d.store.SaveSetUp(r.Context(), v.ID, was, set); errors.Is(err, store.ErrChanged) {
		return &refusal{http.StatusConflict, d.setUpConflict(r, v.SetUp, set)}
	} else if err != nil {
		return err
	}
	return d.measureAnew(w, r)
}

// measureAnew measures all photos of a visit anew, under its pad and gauge and the shop's prints.
func (d *Desk) measureAnew(w http.ResponseWriter, r *http.Request) error {
	v, err := d.visitOf(r)
	if err != nil {
		return err
	}
	shots, err := d.store.Shots(r.Context(), v.ID)
	if err != nil {
		return err
	}
	for _, s := range shots {
		d.measure(s)
	}
	return redirect(w, r, fmt.Sprintf("/visits/%d/imprint", v.ID))
}

// setUpConflict shows both: what another window has set, and what this one would.
func (d *Desk) setUpConflict(r *http.Request, theirs, ours store.SetUp) string {
	return d.say(r, "setup.conflict", "theirs", setUpText(theirs, language(r)), "mine",
		setUpText(ours, language(r)))
}

// setUpText says a set-up in a line.
func setUpText(set store.SetUp, lang words.Lang) string {
	pad := say(lang, "pad.auto")
	if set.Pad != "" {
		pad = capital(lang.Term(set.Pad))
	}
	for _, d := range set.DepthMM {
		pad += ", " + lang.Plain(d) + " mm"
	}
	return pad
}

// usable are the photos of a visit that can be joined, by sitting.
func (d *Desk) usable(r *http.Request, v store.Visit) ([][]store.Shot, error) {
	shots, err := d.store.Shots(r.Context(), v.ID)
	if err != nil {
		return nil, err
	}
	records, err := d.store.Records(r.Context(), v.ID)
	return usable(records, shots), err
}

// together joins the photos of the present sitting.
func (d *Desk) together(w http.ResponseWriter, r *http.Request) error {
	v, err := d.visitOf(r)
	if err != nil {
		return err
	}
	sittings, err := d.usable(r, v)
	if err != nil {
		return err
	}
	var now []store.Shot
	for _, shots := range sittings {
		if shots[0].Sitting == v.Sitting {
			now = shots
		}
	}
	if len(now) < 2 {
		return &refusal{http.StatusUnprocessableEntity, d.say(r, "join.two")}
	}
	d.join(store.OfTogether, v.ID, [][]store.Shot{now})
	return redirect(w, r, fmt.Sprintf("/visits/%d/imprint", v.ID))
}

// sittings joins all sittings of the visit.
func (d *Desk) sittings(w http.ResponseWriter, r *http.Request) error {
	v, err := d.visitOf(r)
	if err != nil {
		return err
	}
	sittings, err := d.usable(r, v)
	if err != nil {
		return err
	}
	if len(sittings) < 2 {
		return &refusal{http.StatusUnprocessableEntity, d.say(r, "join.sittings")}
	}
	d.join(store.OfSittings, v.ID, sittings)
	return redirect(w, r, fmt.Sprintf("/visits/%d/imprint", v.ID))
}

func (d *Desk) join(kind string, visitID int64, sittings [][]store.Shot) {
	if !d.begin(visitKey(visitID)) {
		return
	}
	d.working.Go(func() {
		d.make(kind, visitID, 0, sittings)
		d.end(visitKey(visitID))
		d.settle(d.ctx, visitID)
	})
}

func (d *Desk) nextSitting(w http.ResponseWriter, r *http.Request) error {
	id, err := idOf(r)
	if err != nil {
		return err
	}
	if err := d.store.NextSitting(r.Context(), id); err != nil {
		return err
	}
	return redirect(w, r, fmt.Sprintf("/visits/%d/imprint", id))
}

func (d *Desk) setCurrent(w http.ResponseWriter, r *http.Request) error {
	id, err := idOf(r)
	if err != nil {
		return err
	}
	var record int64
	fmt.Sscan(r.PostFormValue("record"), &record)
	if record == 0 {
		return store.ErrNotFound
	}
	if err := d.mayCount(r, id, record); err != nil {
		return err
	}
	if err := d.store.SetCurrent(r.Context(), id, record); err != nil {
		return err
	}
	return redirect(w, r, fmt.Sprintf("/visits/%d/imprint", id))
}

// mayCount refuses a record that rests on a photo that was left out.
func (d *Desk) mayCount(r *http.Request, visitID, recordID int64) error {
	k, err := d.store.Record(r.Context(), recordID)
	if err != nil {
		return err
	}
	shots, err := d.store.Shots(r.Context(), visitID)
	for _, s := range shots {
		if s.LeftOut && uses(k, s) {
			return &refusal{http.StatusConflict, d.say(r, "use.left.out")}
		}
	}
	return err
}

func (d *Desk) leaveOut(w http.ResponseWriter, r *http.Request) error {
	id, err := idOf(r)
	if err != nil {
		return err
	}
	shot, err := d.store.Shot(r.Context(), id)
	if err != nil {
		return err
	}
	// What the button said counts, so a second click does not take it back.
	if err := d.store.LeaveOut(r.Context(), id, r.PostFormValue("out") != "no"); err != nil {
		return err
	}
	d.settle(context.WithoutCancel(r.Context()), shot.VisitID)
	return redirect(w, r, fmt.Sprintf("/visits/%d/imprint", shot.VisitID))
}
