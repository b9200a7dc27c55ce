package desk

import (
	"bytes"
	"crypto/sha256"
	"encoding/hex"
	"errors"
	"fmt"
	"net/http"
	"slices"
	"strings"
	"time"

	"sitspan/calibration/gum"
	"sitspan/cmd/sitspan/internal/intake"
	"sitspan/cmd/sitspan/internal/record"
	"sitspan/cmd/sitspan/internal/review"
	"sitspan/cmd/sitspan/internal/store"
	"sitspan/cmd/sitspan/internal/words"
	"sitspan/imprint/codes"
)

// tile is a photo, or a joint measurement, in the strip.
type tile struct {
	Shot     int64 // 0 for a joint measurement
	Record   int64 // 0 while it is being measured
	Kind     string
	Name     string
	Sitting  int
	State    string // waiting, or a measurement's status
	Spacing  *float64
	U        *float64
	LeftOut  bool
	Counts   bool
	Reviewed bool
	Joint    bool
	Phone    bool
	Reasons  []record.Reason
}

// stripData is what the strip shows.
type stripData struct {
	Tiles    []tile
	Phones   []phoneLine
	Stage    string // changes with what the stage shows
	Sitting  int
	Joinable int // photos of this sitting that can be joined
	Sittings int // sittings with such a photo
	Good     int // photos of this sitting without a doubt
	Joined   int // photos of this sitting in the joint measurement that counts
	Unused   int // of those, what it does not rest on
	Waiting  bool
	Current  int64
	Gone     *store.Aside // the photo that was deleted last; nil for none
}

// Wanted are the marks of the photos that this sitting is to have: whether there is one yet.
func (s stripData) Wanted() (have []bool) {
	for i := range max(fewestByItself, s.Good) {
		have = append(have, i < s.Good)
	}
	return have
}

func (d *Desk) stripOf(r *http.Request, v store.Visit) (s stripData, err error) {
	busy := d.busyNow() // before the records are read: what ends meanwhile is shown at the next look
	shots, err := d.store.Shots(r.Context(), v.ID)
	if err != nil {
		return s, err
	}
	records, err := d.store.Records(r.Context(), v.ID)
	if err != nil {
		return s, err
	}
	s.Sitting, s.Current, s.Phones = v.Sitting, v.Current, d.phones(r, v.ID)
	if s.Gone, err = d.goneOf(r, v, store.AShot); err != nil {
		return s, err
	}
	shown, under := shownRecord(r, v), d.termsOf(v)
	for _, k := range records {
		if k.ID == shown {
			s.Stage = fmt.Sprint(k.ID, ".", k.LastReview, ".", v.Current, ".", under.changed(k))
		}
	}
	latest := map[int64]store.Kept{}
	for _, k := range records {
		if k.ShotID != 0 {
			latest[k.ShotID] = k
		}
	}
	with := map[int]bool{}
	var could []store.Shot // be joined, of this sitting
	for _, shot := range shots {
		t := tile{Shot: shot.ID, Name: shot.Name, Sitting: shot.Sitting, LeftOut: shot.LeftOut,
			Phone: shot.Via == "phone", State: "waiting", Kind: store.OfPhoto}
		if k, measured := latest[shot.ID]; measured && !busy[shotKey(shot.ID)] {
			t.fill(k, v.Current)
			if joinable(shot, k) {
				with[shot.Sitting] = true
				if shot.Sitting == v.Sitting {
					s.Joinable++
					could = append(could, shot)
					if isGood(records, shot, under) {
						s.Good++
					}
				}
			}
		}
		if t.Record == 0 && !busy[shotKey(shot.ID)] && !d.isBusy(shotKey(shot.ID)) && !d.hasRecord(r, shot) {
			t.State = "unkept" // the disk was full: see the desk's log
		}
		s.Waiting = s.Waiting || t.State == "waiting"
		s.Tiles = append(s.Tiles, t)
	}
	s.Sittings = len(with)
	for _, k := range records {
		if k.ShotID == 0 {
			t := tile{Name: k.Record.Measurement.Photo}
			t.fill(k, v.Current)
			s.Tiles = append(s.Tiles, t)
			if t.Counts {
				s.Unused = unused(k.Record.Measurement.Photos)
				s.Joined = len(slices.DeleteFunc(could, func(shot store.Shot) bool { return !uses(k, shot) }))
			}
		}
	}
	if busy[visitKey(v.ID)] {
		s.Waiting = true
		s.Tiles = append(s.Tiles, tile{Kind: store.OfTogether, State: "waiting"})
	}
	if s.Stage == "" { // nothing is shown yet: what the page says to do changes with the phones
		s.Stage = fmt.Sprint("none ", s.Waiting)
		for _, l := range s.Phones {
			s.Stage += fmt.Sprint(" ", l.ID, l.Here, l.Comes)
		}
	}
	return s, nil
}

// hasRecord looks again: a measurement may have been kept since the list was
// read.
func (d *Desk) hasRecord(r *http.Request, shot store.Shot) bool {
	records, err := d.store.Records(r.Context(), shot.VisitID)
	return err != nil || slices.ContainsFunc(records, func(k store.Kept) bool { return k.ShotID == shot.ID })
}

func (t *tile) fill(k store.Kept, current int64) {
	m, reviewer := k.Record.Current()
	t.Record, t.Kind, t.State, t.Spacing, t.U, t.Reasons = k.ID, k.Kind, m.Status, m.Spacing, m.U, m.Reasons
	t.Counts, t.Reviewed, t.Joint = k.ID == current, reviewer != "", joint(k)
	if isPart(m) {
		t.State = part
	}
}

// joinable says whether a photo can take part in a joint measurement.
func joinable(s store.Shot, k store.Kept) bool {
	m := k.Record.Measurement
	return !s.LeftOut && k.Kind == store.OfPhoto && (m.Spacing != nil || isPart(m))
}

// isPart says whether a photo is of a dotted pad, which gives a number only beside others, and good for that.
func isPart(m record.Measurement) bool {
	return len(m.Reasons) == 1 && m.Reasons[0].Code == codes.OnePhotoOfDots.Code
}

// part is the state of a photo that gives a number only beside others.
const part = "part"

// shownRecord is the record that a page of the imprint shows: the one asked for, else the one that
// counts.
func shownRecord(r *http.Request, v store.Visit) int64 {
	id := v.Current
	if asked := r.URL.Query().Get("record"); asked != "" {
		fmt.Sscan(asked, &id)
	}
	return id
}

func (d *Desk) stripPart(w http.ResponseWriter, r *http.Request) error {
	v, err := d.visitOf(r)
	if err != nil {
		return err
	}
	s, err := d.stripOf(r, v)
	if err != nil {
		return err
	}
	return d.show(w, r, "part-strip", frame{Visit: &v, Data: s})
}

func (d *Desk) imprintPage(w http.ResponseWriter, r *http.Request) error {
	v, err := d.visitOf(r)
	if err != nil {
		return err
	}
	s, err := d.stripOf(r, v)
	if err != nil {
		return err
	}
	data := imprintData{Strip: s, SetUp: setUpOf(v, language(r)), Pads: padNames(d.shopNow())}
	if id := shownRecord(r, v); id != 0 {
		k, err := d.store.Record(r.Context(), id)
		if err != nil {
			return err
		}
		if k.VisitID != v.ID {
			return store.ErrNotFound
		}
		if data.Stage, err = d.stageOf(r, v, k); err != nil {
			return err
		}
	}
	data.Primary = data.next(v, d.lan != nil && r.TLS == nil)
	return d.show(w, r, "imprint", frame{Title: v.Alias, Step: 2, Visit: &v, Data: data})
}

// recordOf is the record that a route names.
func (d *Desk) recordOf(r *http.Request) (store.Kept, error) {
	id, err := idOf(r)
	if err != nil {
		return store.Kept{}, err
	}
	return d.store.Record(r.Context(), id)
}

// moved is a reviewer's word on both centres.
type moved struct {
	Left, Right    [2]float64
	U              float64
	Reviewer, Note string
	Seen           int64 // the number of the review that the page showed, 0 for none
}

func (d *Desk) move(r *http.Request) (store.Kept, moved, record.Measurement, error) {
	k, err := d.recordOf(r)
	if err != nil {
		return k, moved{}, record.Measurement{}, err
	}
	var asked moved
	if err := readJSON(r, &asked); err != nil {
		return k, asked, record.Measurement{}, err
	}
	if !placed(k.Record, asked.Left, asked.Right) {
		return k, asked, k.Record.Measurement, &refusal{http.StatusUnprocessableEntity, d.say(r, "place.all")}
	}
	m, err := review.Move(k.Record.Measurement, review.Centres{Left: asked.Left, Right: asked.Right, U: asked.U})
	if err != nil {
		return k, asked, m, atField(http.StatusUnprocessableEntity, faultText(language(r), err), fieldOf(err))
	}
	return k, asked, m, nil
}

// faultText says in a language what is wrong with what a person set.
func faultText(lang words.Lang, err error) string {
	var move *review.Fault
	var hand *intake.HandFault
	var told *refusal
	switch {
	case errors.As(err, &told):
		return told.text
	case errors.As(err, &move):
		return say(lang, "move."+move.Code, inLanguage(lang, move.Args)...)
	case errors.As(err, &hand):
		return say(lang, "set."+hand.Code, inLanguage(lang, hand.Args)...)
	}
	return lang.Error(err)
}

// inLanguage writes the numbers of a fault, for the places a, b and c.
func inLanguage(lang words.Lang, args []any) (pairs []any) {
	for i, a := range args {
		pairs = append(pairs, string(rune('a'+i)), lang.Plain(toFloat(a)))
	}
	return pairs
}

// stated is an expanded uncertainty as every page and sheet tells it.
func stated(lang words.Lang, u float64) string {
	v := gum.Stated(u)
	return lang.Number(v, gum.Decimals(v))
}

// previewReview says what a move would make of the number, and keeps nothing.
func (d *Desk) previewReview(w http.ResponseWriter, r *http.Request) error {
	_, _, m, err := d.move(r)
	if err != nil {
		return err
	}
	lang := language(r)
	return writeJSON(w, http.StatusOK,
		map[string]any{"spacing": lang.Number(*m.Spacing, 1), "u": stated(lang, *m.U), "status": m.Status})
}

// saveReview keeps the reviewer's measurement beside the automatic one.
func (d *Desk) saveReview(w http.ResponseWriter, r *http.Request) error {
	k, asked, m, err := d.move(r)
	if err != nil {
		return err
	}
	if asked.Reviewer = named(asked.Reviewer); asked.Reviewer == "" {
		return atField(http.StatusUnprocessableEntity, d.say(r, "reviewer.needed"), "reviewer")
	}
	rev := record.Revision{Reviewer: asked.Reviewer, MadeAt: now().UTC(), Note: asked.Note, Measurement: m}
	if saidBefore(k, rev) { // a second click
		return writeJSON(w, http.StatusOK, map[string]bool{"kept": true})
	}
	if err := d.mayCount(r, k.VisitID, k.ID); err != nil {
		return err
	}
	if err := d.store.AddReview(r.Context(), k.ID, asked.Seen, rev); errors.Is(err, store.ErrChanged) {
		return d.reviewConflict(w, r, k, rev)
	} else if err != nil {
		return err
	}
	return writeJSON(w, http.StatusOK, map[string]bool{"kept": true})
}

// saidBefore says whether the review that counts is by the same person and of the same places.
func saidBefore(k store.Kept, rev record.Revision) bool {
	n := len(k.Record.Reviews)
	if n == 0 {
		return false
	}
	last := k.Record.Reviews[n-1]
	return last.Reviewer == rev.Reviewer && samePlaces(last.Measurement, rev.Measurement) &&
		*last.Measurement.U == *rev.Measurement.U
}

// samePlaces says whether two measurements have their centres at the same places.
func samePlaces(a, b record.Measurement) bool {
	same := func(a, b *[2]float64) bool { return a != nil && b != nil && *a == *b }
	return same(a.LeftPx, b.LeftPx) && same(a.RightPx, b.RightPx)
}

// reviewConflict shows both values where somebody else was first.
func (d *Desk) reviewConflict(w http.ResponseWriter, r *http.Request, k store.Kept,
	ours record.Revision) error {
	k, err := d.store.Record(r.Context(), k.ID)
	if err != nil {
		return err
	}
	lang := language(r)
	value := func(m record.Measurement) string {
		if m.Spacing == nil || m.U == nil {
			return "–"
		}
		return lang.Number(*m.Spacing, 1) + " ± " + stated(lang, *m.U) + " mm"
	}
	m, _ := k.Record.Current()
	text := say(lang, "conflict.withdrawn", "theirs", value(m), "mine", value(ours.Measurement))
	if n := len(k.Record.Reviews); n > 0 {
		last := k.Record.Reviews[n-1]
		text = say(lang, "conflict.review", "name", last.Reviewer, "time", clock(last.MadeAt),
			"theirs", value(m), "mine", value(ours.Measurement))
	}
	return writeJSON(w, http.StatusConflict, map[string]any{"error": text, "seen": k.LastReview,
		"conflict": true})
}

// withdrawReview takes the review that counts back.
func (d *Desk) withdrawReview(w http.ResponseWriter, r *http.Request) error {
	k, err := d.recordOf(r)
	if err != nil {
		return err
	}
	var seen int64
	fmt.Sscan(r.PostFormValue("seen"), &seen)
	if err := d.store.WithdrawReview(r.Context(), k.ID, seen); errors.Is(err, store.ErrChanged) {
		return &refusal{http.StatusConflict, d.say(r, "conflict.taken")}
	} else if err != nil {
		return err
	}
	if step := r.PostFormValue("at"); slices.Contains([]string{"choice", "sheet"}, step) {
		return redirect(w, r, fmt.Sprintf("/visits/%d/%s", k.VisitID, step))
	}
	return redirect(w, r, fmt.Sprintf("/visits/%d/imprint?record=%d", k.VisitID, k.ID))
}

// picture gives one of a record's pictures.
func (d *Desk) picture(w http.ResponseWriter, r *http.Request) error {
	id, err := idOf(r)
	if err != nil {
		return err
	}
	kind, isJPEG := strings.CutSuffix(r.PathValue("picture"), ".jpg")
	if !isJPEG || !slices.Contains([]string{store.Overlay, store.View, store.Thumb}, kind) {
		return store.ErrNotFound
	}
	if kind == store.Overlay {
		kind = store.OverlayIn(string(language(r)))
	}
	jpeg, err := d.pictureOf(r, id, kind)
	if err != nil {
		return err
	}
	sum := sha256.Sum256(jpeg)
	w.Header().Set("Content-Type", "image/jpeg")
	w.Header().Set("ETag", `"`+hex.EncodeToString(sum[:8])+`"`)
	// asked for anew: a card's face may have been covered since
	w.Header().Set("Cache-Control", "private, no-cache")
	http.ServeContent(w, r, "", time.Time{}, bytes.NewReader(jpeg))
	return nil
}

// pictureOf gives a record's picture; older records have the drawn one in
// English only.
func (d *Desk) pictureOf(r *http.Request, id int64, kind string) ([]byte, error) {
	jpeg, err := d.store.Picture(r.Context(), id, kind)
	if errors.Is(err, store.ErrNotFound) && kind != store.Overlay && strings.HasPrefix(kind, store.Overlay) {
		return d.store.Picture(r.Context(), id, store.Overlay)
	}
	return jpeg, err
}
