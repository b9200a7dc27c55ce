package desk

import (
	"math"
	"net/http"
	"time"

	"sitspan/cmd/sitspan/internal/intake"
	"sitspan/cmd/sitspan/internal/record"
	"sitspan/cmd/sitspan/internal/report"
	"sitspan/cmd/sitspan/internal/review"
	"sitspan/cmd/sitspan/internal/store"
	"sitspan/cmd/sitspan/internal/words"
	"sitspan/imprint/reference"
)

// handU is the standard uncertainty in mm of a centre on a photo without a frame
// (assumed: no grid, and often a worse light).
const handU = 2.0

// stage is what the imprint's page shows of the record in view.
type stage struct {
	Kept     store.Kept
	M        record.Measurement
	Auto     record.Measurement
	Reviewer string
	SeenAt   time.Time        // when the reviewer kept it
	Moved    bool             // the reviewer moved a centre, or set it by hand
	Before   *record.Revision // somebody's word on a measurement of the same photos that no longer counts
	Old      since            // what was changed after it was made
	LeftOut  bool             // rests on a photo that was left out
	Width    int              // of the upright picture, px
	Height   int
	Pictured bool
	NoFile   bool  // nothing but the file's name, size and hash is kept
	Drawn    bool  // with all that was found
	Contours bool  // there is a surface to draw on it
	CanMove  bool  // both centres, over the plane that the picture shows
	MayHand  bool  // no frame: a person may set the scale, too
	ByHand   bool  // and is about to
	Other    int64 // the photo's automatic record, where this one is by hand
	Hand     *record.HandScale
	Card     *record.Card // that was found in the picture
	U        float64
	Script   map[string]any // what the page's script needs
}

// PartName is what one of the photos of a joint measurement is called.
func (s *stage) PartName(i int) string { return report.PartName(s.Auto.Photos, i) }

func (d *Desk) stageOf(r *http.Request, v store.Visit, k store.Kept) (*stage, error) {
	m, reviewer := k.Record.Current()
	s := &stage{Kept: k, M: m, Auto: k.Record.Measurement, Reviewer: reviewer, U: review.DefaultU}
	s.Old = d.termsOf(v).changed(k)
	if err := d.sayWhoLooked(r, s); err != nil {
		return nil, err
	}
	if at := s.Auto.Shown; at < len(k.Record.Photos) {
		s.Width, s.Height, s.Card = k.Record.Photos[at].Width, k.Record.Photos[at].Height, k.Record.Photos[at].Card
	}
	_, err := d.store.Picture(r.Context(), k.ID, store.View)
	s.Pictured = err == nil && s.Width > 0
	if shot, err := d.store.Shot(r.Context(), k.ShotID); err == nil {
		s.NoFile = shot.Extension == store.NoPicture
	}
	_, err = d.store.Picture(r.Context(), k.ID, store.Overlay)
	s.Drawn = err == nil
	s.Contours = hasContours(k.Record)
	if m.Geometry != nil {
		s.Hand = m.Geometry.Hand
	}
	s.MayHand = s.Pictured && k.ShotID != 0 && m.ScaleSource != byFrame
	s.CanMove = s.Pictured && m.Geometry != nil && s.Hand == nil && k.Kind != store.OfSittings
	s.ByHand = s.MayHand && (!s.CanMove || r.URL.Query().Has("hand"))
	if s.ByHand {
		s.CanMove, s.U = false, handU
	}
	if k.Kind == store.ByHand {
		if s.Other, err = d.automaticOf(r, k); err != nil {
			return nil, err
		}
	}
	s.Script = s.script(language(r))
	return s, nil
}

// sayWhoLooked fills in who looked at the record, or at the one before it.
func (d *Desk) sayWhoLooked(r *http.Request, s *stage) error {
	k := s.Kept
	if n := len(k.Record.Reviews); n > 0 {
		s.SeenAt = k.Record.Reviews[n-1].MadeAt
		s.Moved = !samePlaces(s.M, s.Auto)
	}
	shots, err := d.store.Shots(r.Context(), k.VisitID)
	if err != nil {
		return err
	}
	for _, shot := range shots {
		s.LeftOut = s.LeftOut || shot.LeftOut && uses(k, shot)
	}
	if s.Reviewer != "" || k.Kind == store.ByHand {
		return nil
	}
	records, err := d.store.Records(r.Context(), k.VisitID)
	for _, other := range records {
		if n := len(other.Record.Reviews); n > 0 && other.ID < k.ID && other.Kind == k.Kind &&
			other.ShotID == k.ShotID {
			s.Before = &other.Record.Reviews[n-1]
		}
	}
	return err
}

// automaticOf is the latest automatic record of the same photo.
func (d *Desk) automaticOf(r *http.Request, k store.Kept) (id int64, err error) {
	records, err := d.store.Records(r.Context(), k.VisitID)
	for _, other := range records {
		if other.ShotID == k.ShotID && other.Kind == store.OfPhoto {
			id = other.ID
		}
	}
	return id, err
}

// LengthIn is the length of a scale that was set, as it was typed.
func (s *stage) LengthIn(lang words.Lang) string {
	if s.Hand == nil || s.Hand.Source != intake.ByRule {
		return ""
	}
	return lang.Plain(s.Hand.MM)
}

// Source is the scale by hand that the page begins with.
func (s *stage) Source() string {
	if s.Hand != nil {
		return s.Hand.Source
	}
	if s.Card != nil {
		return intake.ByCard
	}
	return intake.ByRule
}

// script is what the page's script is told: the picture's size, where the
// centres are, and how pixels lie on the plane.
func (s *stage) script(lang words.Lang) map[string]any {
	out := map[string]any{"record": s.Kept.ID, "shot": s.Kept.ShotID, "width": s.Width, "height": s.Height,
		"decimal":  lang.Number(0.5, 1)[1:2],
		"geometry": s.M.Geometry, "left": nil, "right": nil, "spacing": s.M.Spacing, "u": s.M.U, "move": s.CanMove,
		"byHand": s.ByHand, "hand": s.Hand,
		"seen": s.Kept.LastReview, "card": [2]float64{reference.CardWidth, reference.CardHeight}}
	if s.Card != nil {
		out["corners"] = s.Card.Corners
	}
	out["left"], out["right"] = s.begin()
	if s.M.Left != nil && s.M.Right != nil {
		out["dents"] = []any{s.M.Left, s.M.Right}
	}
	return out
}

// begin is where the two crosses are at first: on what was found, else at places
// that mean nothing, which nobody may confirm.
func (s *stage) begin() (left, right [2]float64) {
	if s.M.LeftPx != nil && s.M.RightPx != nil {
		return *s.M.LeftPx, *s.M.RightPx
	}
	return nowhere(s.M.Geometry, s.Width, s.Height)
}

// nowhere are the crosses' places where nothing was found.
func nowhere(g *record.Geometry, width, height int) (left, right [2]float64) {
	w, h := float64(width), float64(height)
	if g != nil {
		l, q := imageFromPlane(g, -60, 0), imageFromPlane(g, 60, 0)
		if inside(l, w, h) && inside(q, w, h) {
			return l, q
		}
	}
	return [2]float64{0.35 * w, 0.5 * h}, [2]float64{0.65 * w, 0.5 * h}
}

// placed says whether a person has put both crosses somewhere, on a photo in
// which nothing was found.
func placed(rec record.Record, left, right [2]float64) bool {
	if rec.Measurement.LeftPx != nil || len(rec.Photos) == 0 {
		return true
	}
	of := rec.Photos[min(rec.Measurement.Shown, len(rec.Photos)-1)]
	l, q := nowhere(rec.Measurement.Geometry, of.Width, of.Height)
	const same = 1e-6 // px: what a number loses on its way to a page and back
	off := func(a, b [2]float64) bool { return math.Hypot(a[0]-b[0], a[1]-b[1]) > same }
	return off(left, l) && off(right, q)
}

func inside(p [2]float64, w, h float64) bool { return p[0] >= 0 && p[1] >= 0 && p[0] < w && p[1] < h }

func imageFromPlane(g *record.Geometry, x, y float64) [2]float64 {
	h := g.ImageFromPlane
	w := h[6]*x + h[7]*y + h[8]
	return [2]float64{(h[0]*x + h[1]*y + h[2]) / w, (h[3]*x + h[4]*y + h[5]) / w}
}
