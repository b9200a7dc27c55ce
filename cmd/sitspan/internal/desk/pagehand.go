package desk

import (
	"context"
	"errors"
	"math"
	"net/http"
	"slices"
	"strings"

	"sitspan/cmd/sitspan/internal/intake"
	"sitspan/cmd/sitspan/internal/record"
	"sitspan/cmd/sitspan/internal/review"
	"sitspan/cmd/sitspan/internal/sentence"
	"sitspan/cmd/sitspan/internal/store"
	"sitspan/cmd/sitspan/internal/words"
	"sitspan/cmd/sitspan/internal/worker"
)

// handScale is a scale by hand, and the centres with it.
type handScale struct {
	moved
	Points [][2]float64 // of the scale
	Length string       // mm between the two points of a rule, as typed
	Medium string
	Source string
}

// scaleSources are the scales that a hand can set.
var scaleSources = []string{intake.ByRule, intake.ByCard}

// leastHandPx is how far apart in px what is set by hand must lie; shared with
// the measurement.
const leastHandPx = 50

// byHand keeps a measurement of a photo without a frame, beside the automatic
// one. A card that a person points out is covered in all that is kept.
func (d *Desk) byHand(w http.ResponseWriter, r *http.Request) error {
	id, err := idOf(r)
	if err != nil {
		return err
	}
	shot, err := d.store.Shot(r.Context(), id)
	if err != nil {
		return err
	}
	if d.isBusy(shotKey(id)) {
		return &refusal{http.StatusConflict, d.say(r, "wait.measuring")} // its file may be replaced yet
	}
	var s handScale
	if err := readJSON(r, &s); err != nil {
		return err
	}
	lang := language(r)
	scale, err := s.scale(lang)
	if err != nil {
		return atField(http.StatusUnprocessableEntity, faultText(lang, err), fieldOf(err))
	}
	rec, answer, err := d.measureByHand(r, shot, s, scale)
	if err != nil {
		return err
	}
	if err := d.cover(context.WithoutCancel(r.Context()), shot.ID, answer); err != nil {
		return err
	}
	k := store.Kept{VisitID: shot.VisitID, ShotID: shot.ID, Kind: store.ByHand, Record: rec}
	if _, err := d.store.AddRecord(context.WithoutCancel(r.Context()), k, answer.Pictures); err != nil {
		return err
	}
	return writeJSON(w, http.StatusOK, map[string]bool{"kept": true})
}

// scale checks what was set.
func (s handScale) scale(lang words.Lang) (h intake.HandScale, err error) {
	h = intake.HandScale{HandScale: record.HandScale{Source: s.Source, Points: s.Points, MM: intake.CardMM},
		Left: s.Left, Right: s.Right, U: s.U}
	if !slices.Contains(scaleSources, s.Source) {
		return h, words.Fault("error.desk.scale", words.Values{"word": s.Source})
	}
	if s.Source == intake.ByRule {
		if h.MM, err = typed(s.Length, say(lang, "scale.length"), "mm", 10, 1000, 0, lang); err != nil {
			return h, atField(http.StatusUnprocessableEntity, faultText(lang, err), "length")
		}
		if h.MM == 0 {
			return h, atField(http.StatusUnprocessableEntity, say(lang, "scale.needed"), "length")
		}
	}
	if err := h.Check(); err != nil {
		return h, err
	}
	apart := func(a, b [2]float64) bool { return math.Hypot(a[0]-b[0], a[1]-b[1]) >= leastHandPx }
	switch {
	case !apart(s.Points[0], s.Points[1]) || !apart(s.Left, s.Right):
		return h, words.Fault("desk.hand.near", words.Values{"px": leastHandPx})
	case !(s.U > 0 && s.U <= 20):
		return h, atField(http.StatusUnprocessableEntity, say(lang, "hand.u"), "own-u")
	case named(s.Reviewer) == "":
		return h, atField(http.StatusUnprocessableEntity, say(lang, "reviewer.needed"), "reviewer")
	}
	return h, nil
}

// named is a reviewer's name; empty where it is none.
func named(reviewer string) string {
	name := strings.Join(strings.Fields(reviewer), " ")
	if len([]rune(name)) > mostAlias {
		return ""
	}
	return name
}

func (d *Desk) measureByHand(r *http.Request, shot store.Shot, s handScale,
	scale intake.HandScale) (record.Record, worker.Answer, error) {
	rec, err := d.latestOf(r, shot)
	if err != nil {
		return rec, worker.Answer{}, err
	}
	if !placed(rec, s.Left, s.Right) {
		return rec, worker.Answer{}, &refusal{http.StatusUnprocessableEntity, d.say(r, "place.all")}
	}
	visit, err := d.store.Visit(r.Context(), shot.VisitID)
	if err != nil {
		return rec, worker.Answer{}, err
	}
	set := visit.SetUp
	set.Medium = s.Medium
	byHand := worker.HandScale(scale)
	job := worker.Job{Sittings: one(d.jobPhoto(r.Context(), shot)), Hand: &byHand, Draw: drawn}
	answer, err := d.queue.do(r.Context(), d.settings(r.Context(), set), job, nil)
	if err != nil {
		if errors.Is(err, errBusy) {
			return rec, answer, err
		}
		d.logf("a scale by hand was not measured: %v", err)
		return rec, answer, &refusal{http.StatusUnprocessableEntity, d.say(r, "hand.failed")}
	}
	m := answer.Record.Measurement
	if m.Spacing == nil { // an impossible distance: its reason says so
		why := sentence.Spoken{Seen: d.say(r, "hand.none")}
		if len(m.Reasons) > 0 {
			why = speak(sentence.OfReason(language(r), m.Reasons[0]))
		}
		return rec, answer, &refusal{http.StatusUnprocessableEntity, why.Seen + ". " + why.Do}
	}
	review.Settle(&m)
	rec.MadeAt, rec.Alias = now().UTC(), visit.Alias
	rec.Reviews = []record.Revision{{Reviewer: named(s.Reviewer), MadeAt: now().UTC(), Note: s.Note,
		Measurement: m}}
	return rec, answer, nil
}

// latestOf is a photo's own automatic record.
func (d *Desk) latestOf(r *http.Request, shot store.Shot) (rec record.Record, err error) {
	records, err := d.store.Records(r.Context(), shot.VisitID)
	if err != nil {
		return rec, err
	}
	for _, k := range records {
		if k.ShotID == shot.ID && k.Kind == store.OfPhoto {
			rec = k.Record
		}
	}
	if rec.Schema == 0 {
		return rec, &refusal{http.StatusConflict, d.say(r, "wait.measuring")}
	}
	return rec, nil
}
