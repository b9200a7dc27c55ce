package desk

import (
	"bytes"
	"encoding/json"
	"errors"
	"fmt"
	"image"
	"image/jpeg"
	"net/http"
	"reflect"
	"strings"
	"time"

	"sitspan/cmd/sitspan/internal/advice"
	"sitspan/cmd/sitspan/internal/proof"
	"sitspan/cmd/sitspan/internal/record"
	"sitspan/cmd/sitspan/internal/report"
	"sitspan/cmd/sitspan/internal/store"
	"sitspan/cmd/sitspan/internal/words"
	"sitspan/fit"
)

// standing is what is to be said wherever a visit's number stands.
type standing struct {
	Reviewer string // who looked at it; empty for nobody
	SeenAt   time.Time
	Moved    bool  // by the reviewer
	Doubted  bool  // the measurement itself asks for a look
	Old      since // what was changed after it was made
	Record   int64
	Number   record.Measurement
	Review   int64 // the number of the reviewer's word; 0 where it cannot be taken back
}

// Open says that nobody has confirmed the number.
func (s standing) Open() bool { return s.Reviewer == "" }

func (d *Desk) standingOf(r *http.Request, v store.Visit) (s standing, err error) {
	if v.Current == 0 {
		return s, nil
	}
	k, err := d.store.Record(r.Context(), v.Current)
	if err != nil {
		return s, err
	}
	m, reviewer := k.Record.Current()
	s = standing{Reviewer: reviewer, Doubted: m.Status == record.Review, Old: d.termsOf(v).changed(k),
		Record: k.ID, Number: m}
	if k.Kind != store.ByHand {
		s.Review = k.LastReview
	}
	if n := len(k.Record.Reviews); n > 0 {
		s.SeenAt, s.Moved = k.Record.Reviews[n-1].MadeAt, !samePlaces(m, k.Record.Measurement)
	}
	return s, nil
}

// sheetLine is a sheet in the list, with the number that it was made from.
type sheetLine struct {
	store.Sheet
	M     record.Measurement
	Holds bool // what it says is what counts now
}

// holding tells sheets that say what counts now from those that are void: their measurement, who looked
// at it, or the bikes and widths are others since.
func (d *Desk) holding(r *http.Request, v store.Visit) (func(store.Sheet) bool, error) {
	s, err := d.standingOf(r, v)
	if err != nil {
		return nil, err
	}
	rec, _, err := d.chosen(r, v)
	if err != nil && !errors.Is(err, errNoPosture) && !errors.Is(err, advice.ErrNoSpacing) {
		return nil, err
	}
	return func(sheet store.Sheet) bool {
		return s.Old == nothingSince && sheet.RecordID == v.Current &&
			reflect.DeepEqual(gist(sheet.Record), gist(rec))
	}, nil
}

// gist is what a sheet says that must not be out of date.
func gist(rec record.Record) any {
	type width struct {
		Bike         fit.Bike
		Width, Other *float64
	}
	m, reviewer := rec.Current()
	var recs []fit.Recommendation
	if err := json.Unmarshal(rec.Recommendations, &recs); err != nil {
		recs = nil // without a bike there are none
	}
	var widths []width
	for _, r := range recs {
		widths = append(widths, width{r.Bike, r.Choice.WidthMM, r.Choice.AlternativeMM})
	}
	return []any{rec.Alias, m.Status, m.Spacing, m.U, m.LeftPx, m.RightPx, reviewer, widths}
}

func (d *Desk) sheetPage(w http.ResponseWriter, r *http.Request) error {
	v, err := d.visitOf(r)
	if err != nil {
		return err
	}
	sheets, err := d.store.Sheets(r.Context(), v.ID)
	if err != nil {
		return err
	}
	holds, err := d.holding(r, v)
	if err != nil {
		return err
	}
	data := struct {
		Sheets []sheetLine
		Shown  *sheetLine
		Holds  bool // what is shown says what counts
		Langs  []words.Lang
		Paper  report.Paper
		M      *record.Measurement
		Gone   *store.Aside // the sheet that was deleted last; nil for none
		standing
	}{Langs: words.Langs(), Paper: paperOf(r)}
	for _, s := range sheets {
		m, _ := s.Record.Current()
		data.Sheets = append(data.Sheets, sheetLine{s, m, holds(s)})
	}
	if len(data.Sheets) > 0 {
		data.Shown, data.Holds = &data.Sheets[0], data.Sheets[0].Holds
	}
	if data.standing, err = d.standingOf(r, v); err != nil {
		return err
	}
	if data.Gone, err = d.goneOf(r, v, store.ASheet); err != nil {
		return err
	}
	if v.Current != 0 {
		k, err := d.store.Record(r.Context(), v.Current)
		if err != nil {
			return err
		}
		if m, _ := k.Record.Current(); m.Spacing != nil {
			data.M = &m
		}
	}
	return d.show(w, r, "sheet", frame{Title: v.Alias, Step: 4, Visit: &v, Data: data})
}

// The cookie of the last sheet's paper.
const paperCookie = "sitspan_paper"

// paperOf is the paper of the last sheet that this browser asked for.
func paperOf(r *http.Request) report.Paper {
	if c, err := r.Cookie(paperCookie); err == nil {
		if p, err := report.ParsePaper(c.Value); err == nil {
			return p
		}
	}
	return report.A4
}

func keepPaper(w http.ResponseWriter, r *http.Request, p report.Paper) {
	http.SetCookie(w, &http.Cookie{Name: paperCookie, Value: string(p), Path: "/", HttpOnly: true,
		SameSite: http.SameSiteStrictMode, MaxAge: 365 * 24 * 3600, Secure: r.TLS != nil})
}

func (d *Desk) makeSheet(w http.ResponseWriter, r *http.Request) error {
	v, err := d.visitOf(r)
	if err != nil {
		return err
	}
	lang, err := words.Parse(r.PostFormValue("language"))
	if err != nil {
		return &refusal{http.StatusBadRequest, faultText(language(r), err)}
	}
	paper, err := report.ParsePaper(r.PostFormValue("paper"))
	if err != nil {
		return &refusal{http.StatusBadRequest, faultText(language(r), err)}
	}
	keepPaper(w, r, paper)
	return d.once(w, r, func() (string, error) {
		return fmt.Sprintf("/visits/%d/sheet", v.ID), d.addSheet(r, v, lang, paper)
	})
}

// addSheet draws a visit's sheet and keeps it.
func (d *Desk) addSheet(r *http.Request, v store.Visit, lang words.Lang, paper report.Paper) error {
	s, err := d.standingOf(r, v)
	if err != nil {
		return err
	}
	if s.Old != nothingSince {
		return &refusal{http.StatusConflict, d.say(r, "number.old."+string(s.Old))}
	}
	rec, _, err := d.chosen(r, v)
	if errors.Is(err, advice.ErrNoSpacing) {
		return &refusal{http.StatusUnprocessableEntity, d.say(r, "choice.no.spacing")}
	} else if err != nil && !errors.Is(err, errNoPosture) {
		return &refusal{http.StatusUnprocessableEntity, faultText(language(r), err)}
	}
	var pdf bytes.Buffer
	sh := d.shopNow()
	o := report.SheetOptions{Lang: lang, Paper: paper, Shop: sh.Name, Address: sh.Address, Logo: d.logo(),
		Overlay: d.overlayFor(r, v, rec, lang)}
	o.Fitter, o.Next = sh.Fitter, sh.NextAfter(rec.MadeAt)
	if s.Open() {
		o.Mark = say(lang, "sheet.unconfirmed")
	}
	o.Proof = report.LastCheck(lang, proof.Last(d.checks(r.Context())))
	if err := report.WriteSheet(&pdf, rec, o); err != nil {
		return &refusal{http.StatusUnprocessableEntity, faultText(language(r), err)}
	}
	sheet := store.Sheet{VisitID: v.ID, RecordID: v.Current, Lang: string(lang)}
	_, err = d.store.AddSheet(r.Context(), sheet, rec, pdf.Bytes())
	return err
}

// overlayFor is the picture for a sheet: the drawn photo, but not where a person
// has moved the centres since, since it shows the automatic ones.
func (d *Desk) overlayFor(r *http.Request, v store.Visit, rec record.Record, lang words.Lang) image.Image {
	if !drawnAsItCounts(rec) {
		return nil
	}
	data, err := d.pictureOf(r, v.Current, store.OverlayIn(string(lang)))
	if err != nil {
		return nil
	}
	img, err := jpeg.Decode(bytes.NewReader(data)) // our own
	if err != nil {
		return nil
	}
	return img
}

// drawnAsItCounts says whether the automatic drawing shows what counts: nobody
// has moved a centre, and it does not ask for a look that was had.
func drawnAsItCounts(rec record.Record) bool {
	m, reviewer := rec.Current()
	if reviewer == "" {
		return true
	}
	return rec.Measurement.Status == record.Measured && samePlaces(rec.Measurement, m)
}

func (d *Desk) sheetFile(w http.ResponseWriter, r *http.Request) error {
	name, isPDF := strings.CutSuffix(r.PathValue("name"), ".pdf")
	var id int64
	if _, err := fmt.Sscan(name, &id); err != nil || !isPDF || fmt.Sprint(id) != name {
		return store.ErrNotFound
	}
	sheet, err := d.store.Sheet(r.Context(), id)
	if err != nil {
		return err
	}
	v, err := d.store.Visit(r.Context(), sheet.VisitID)
	if err != nil {
		return err
	}
	holds, err := d.holding(r, v)
	if err != nil {
		return err
	}
	if !holds(sheet) {
		return &refusal{http.StatusGone, d.say(r, "sheet.void.why")}
	}
	pdf, err := d.store.SheetPDF(r.Context(), id)
	if err != nil {
		return err
	}
	w.Header().Set("Content-Type", "application/pdf")
	w.Header().Set("Content-Disposition", fmt.Sprintf(`inline; filename="sitspan-%d.pdf"`, id))
	_, err = w.Write(pdf)
	return ignoreGone(err)
}
