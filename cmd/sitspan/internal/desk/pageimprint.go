package desk

import (
	"errors"
	"fmt"
	"net/http"
	"slices"
	"strings"

	"sitspan/cmd/sitspan/internal/intake"
	"sitspan/cmd/sitspan/internal/record"
	"sitspan/cmd/sitspan/internal/review"
	"sitspan/cmd/sitspan/internal/store"
	"sitspan/fit"
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
	Phone    bool
	Reasons  []record.Reason
}

// stripData is what the strip shows.
type stripData struct {
	Tiles    []tile
	Sitting  int
	Joinable int // photos of this sitting that can be joined
	Sittings int // sittings with such a photo
	Waiting  bool
	Current  int64
}

func (d *Desk) stripOf(r *http.Request, v store.Visit) (s stripData, err error) {
	shots, err := d.store.Shots(r.Context(), v.ID)
	if err != nil {
		return s, err
	}
	records, err := d.store.Records(r.Context(), v.ID)
	if err != nil {
		return s, err
	}
	s.Sitting, s.Current = v.Sitting, v.Current
	latest := map[int64]store.Kept{}
	for _, k := range records {
		if k.ShotID != 0 {
			latest[k.ShotID] = k
		}
	}
	with := map[int]bool{}
	for _, shot := range shots {
		t := tile{Shot: shot.ID, Name: shot.Name, Sitting: shot.Sitting, LeftOut: shot.LeftOut, Phone: shot.Via == "phone", State: "waiting", Kind: store.OfPhoto}
		if k, measured := latest[shot.ID]; measured && !d.isBusy(shotKey(shot.ID)) {
			t.fill(k, v.Current)
			if joinable(shot, k) {
				with[shot.Sitting] = true
				if shot.Sitting == v.Sitting {
					s.Joinable++
				}
			}
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
		}
	}
	if d.isBusy(visitKey(v.ID)) {
		s.Waiting = true
		s.Tiles = append(s.Tiles, tile{Kind: store.OfTogether, State: "waiting"})
	}
	return s, nil
}

func (t *tile) fill(k store.Kept, current int64) {
	m, reviewer := k.Record.Current()
	t.Record, t.Kind, t.State, t.Spacing, t.U, t.Reasons = k.ID, k.Kind, m.Status, m.Spacing, m.U, m.Reasons
	t.Counts, t.Reviewed = k.ID == current, reviewer != ""
}

// joinable says whether a photo can take part in a joint measurement.
func joinable(s store.Shot, k store.Kept) bool {
	return !s.LeftOut && k.Kind == store.OfPhoto && k.Record.Measurement.Spacing != nil
}

func (d *Desk) strip(w http.ResponseWriter, r *http.Request) error {
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

// handU is the standard uncertainty in mm of a centre on a photo without a frame
// (assumed: no grid, and often a worse light).
const handU = 2.0

// stage is what the imprint's page shows of the record in view.
type stage struct {
	Kept     store.Kept
	M        record.Measurement
	Auto     record.Measurement
	Reviewer string
	Width    int // of the upright picture, px
	Height   int
	CanMove  bool
	ByHand   bool // no frame: scale and centres by hand
	Pictured bool
	U        float64
	Script   map[string]any // what the page's script needs
}

func (d *Desk) imprintPage(w http.ResponseWriter, r *http.Request) error {
	v, err := d.visitOf(r)
	if err != nil {
		return err
	}
	d.active.Store(v.ID)
	s, err := d.stripOf(r, v)
	if err != nil {
		return err
	}
	data := struct {
		Strip stripData
		Stage *stage
		SetUp setUpForm
		Pads  []string
	}{Strip: s, SetUp: setUpOf(v, language(r)), Pads: padNames(d.shop)}
	id := v.Current
	if asked := r.URL.Query().Get("record"); asked != "" {
		fmt.Sscan(asked, &id)
	}
	if id != 0 {
		k, err := d.store.Record(r.Context(), id)
		if err != nil {
			return err
		}
		if k.VisitID != v.ID {
			return store.ErrNotFound
		}
		data.Stage = d.stageOf(r, k)
	}
	return d.show(w, r, "imprint", frame{Title: v.Alias, Step: 2, Visit: &v, Data: data})
}

func (d *Desk) stageOf(r *http.Request, k store.Kept) *stage {
	m, reviewer := k.Record.Current()
	s := &stage{Kept: k, M: m, Auto: k.Record.Measurement, Reviewer: reviewer, U: review.DefaultU}
	if len(k.Record.Photos) > 0 {
		s.Width, s.Height = k.Record.Photos[0].Width, k.Record.Photos[0].Height
	}
	_, err := d.store.Picture(r.Context(), k.ID, store.View)
	s.Pictured = err == nil && s.Width > 0
	s.CanMove = s.Pictured && m.Geometry != nil && k.Kind != store.OfSittings
	s.ByHand = s.Pictured && m.Geometry == nil && k.ShotID != 0
	if s.ByHand {
		s.U = handU
	}
	s.Script = s.script(language(r))
	return s
}

// script is what the page's script is told: the picture's size, where the
// centres are, and how pixels lie on the plane.
func (s *stage) script(lang fit.Lang) map[string]any {
	type point = [2]float64
	out := map[string]any{"record": s.Kept.ID, "shot": s.Kept.ShotID, "width": s.Width, "height": s.Height, "decimal": number(lang, 0.5, 1)[1:2],
		"geometry": s.M.Geometry, "left": nil, "right": nil, "spacing": s.M.Spacing, "u": s.M.U, "move": s.CanMove, "byHand": s.ByHand}
	w, h := float64(s.Width), float64(s.Height)
	out["left"], out["right"] = point{0.35 * w, 0.5 * h}, point{0.65 * w, 0.5 * h}
	if s.M.LeftPx != nil && s.M.RightPx != nil {
		out["left"], out["right"] = *s.M.LeftPx, *s.M.RightPx
	} else if g := s.M.Geometry; g != nil {
		out["left"], out["right"] = imageFromPlane(g, -60, 0), imageFromPlane(g, 60, 0)
	}
	if s.M.Left != nil && s.M.Right != nil {
		out["dents"] = []any{s.M.Left, s.M.Right}
	}
	return out
}

func imageFromPlane(g *record.Geometry, x, y float64) [2]float64 {
	h := g.ImageFromPlane
	w := h[6]*x + h[7]*y + h[8]
	return [2]float64{(h[0]*x + h[1]*y + h[2]) / w, (h[3]*x + h[4]*y + h[5]) / w}
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
	m, err := review.Move(k.Record.Measurement, review.Centres{Left: asked.Left, Right: asked.Right, U: asked.U})
	if err != nil {
		return k, asked, m, &refusal{http.StatusUnprocessableEntity, err.Error()}
	}
	return k, asked, m, nil
}

// previewReview says what a move would make of the number, and keeps nothing.
func (d *Desk) previewReview(w http.ResponseWriter, r *http.Request) error {
	_, _, m, err := d.move(r)
	if err != nil {
		return err
	}
	lang := language(r)
	return writeJSON(w, http.StatusOK, map[string]any{"spacing": number(lang, *m.Spacing, 1), "u": number(lang, *m.U, 1), "status": m.Status})
}

// saveReview keeps the reviewer's measurement beside the automatic one.
func (d *Desk) saveReview(w http.ResponseWriter, r *http.Request) error {
	k, asked, m, err := d.move(r)
	if err != nil {
		return err
	}
	asked.Reviewer = strings.Join(strings.Fields(asked.Reviewer), " ")
	if asked.Reviewer == "" || len([]rune(asked.Reviewer)) > mostAlias {
		return &refusal{http.StatusUnprocessableEntity, d.say(r, "reviewer.needed")}
	}
	rev := record.Revision{Reviewer: asked.Reviewer, MadeAt: now().UTC(), Note: asked.Note, Measurement: m}
	if err := d.store.AddReview(r.Context(), k.ID, rev); err != nil {
		return err
	}
	return writeJSON(w, http.StatusOK, map[string]bool{"kept": true})
}

// handScale is a scale by hand, and the centres with it.
type handScale struct {
	moved
	A, B   [2]float64
	Length string // mm, as typed
	Medium string
	Source string
}

// scaleSources are the scales that a hand can set, record's words for them.
// Whatever else gives one (a card's four edges) joins here.
var scaleSources = []string{"rule"}

// byHand keeps a measurement of a photo without a frame.
func (d *Desk) byHand(w http.ResponseWriter, r *http.Request) error {
	id, err := idOf(r)
	if err != nil {
		return err
	}
	shot, err := d.store.Shot(r.Context(), id)
	if err != nil {
		return err
	}
	var s handScale
	if err := readJSON(r, &s); err != nil {
		return err
	}
	lang := language(r)
	rec, err := d.measureByHand(r, shot, s, lang)
	if err != nil {
		return &refusal{http.StatusUnprocessableEntity, err.Error()}
	}
	pictures := map[string][]byte{}
	if records, err := d.store.Records(r.Context(), shot.VisitID); err == nil {
		for _, k := range records {
			if k.ShotID == shot.ID {
				for _, kind := range []string{store.View, store.Thumb} {
					if jpeg, err := d.store.Picture(r.Context(), k.ID, kind); err == nil {
						pictures[kind] = jpeg
					}
				}
			}
		}
	}
	if _, err := d.store.AddRecord(r.Context(), store.Kept{VisitID: shot.VisitID, ShotID: shot.ID, Kind: store.ByHand, Record: rec}, pictures); err != nil {
		return err
	}
	return writeJSON(w, http.StatusOK, map[string]bool{"kept": true})
}

func (d *Desk) measureByHand(r *http.Request, shot store.Shot, s handScale, lang fit.Lang) (record.Record, error) {
	length, err := typed(s.Length, say(lang, "scale.length"), "mm", 10, 1000, 0, lang)
	if err != nil {
		return record.Record{}, err
	}
	reviewer := strings.Join(strings.Fields(s.Reviewer), " ")
	switch {
	case !slices.Contains(scaleSources, s.Source):
		return record.Record{}, fmt.Errorf("there is no scale %q", s.Source)
	case reviewer == "":
		return record.Record{}, errors.New(say(lang, "reviewer.needed"))
	}
	rec, err := d.latestOf(r, shot)
	if err != nil {
		return rec, err
	}
	visit, err := d.store.Visit(r.Context(), shot.VisitID)
	if err != nil {
		return rec, err
	}
	set := visit.SetUp
	set.Medium = s.Medium
	answer, err := d.queue.do(r.Context(), job{Kind: store.ByHand, Shop: d.shop.Path, SetUp: set, Limits: d.limits,
		Sittings: [][]jobPhoto{{{d.store.PhotoPath(shot), shot.Name, shot.SHA256}}},
		Hand:     &intake.HandScale{A: s.A, B: s.B, MM: length, Left: s.Left, Right: s.Right, U: s.U}}, nil)
	if err != nil {
		return rec, err
	}
	rec.MadeAt, rec.Alias = now().UTC(), visit.Alias
	rec.Reviews = []record.Revision{{Reviewer: reviewer, MadeAt: now().UTC(), Note: s.Note, Measurement: answer.Record.Measurement}}
	return rec, nil
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
		return rec, fmt.Errorf("this photo is still being measured: wait a moment")
	}
	return rec, nil
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
	jpeg, err := d.store.Picture(r.Context(), id, kind)
	if err != nil {
		return err
	}
	w.Header().Set("Content-Type", "image/jpeg")
	w.Header().Set("Cache-Control", "private, max-age=3600")
	_, err = w.Write(jpeg)
	return ignoreGone(err)
}
