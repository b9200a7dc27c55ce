package desk

import (
	"bytes"
	"encoding/json"
	"errors"
	"fmt"
	"image"
	"image/jpeg"
	"math"
	"net/http"
	"strings"

	"sitspan/cmd/sitspan/internal/advice"
	"sitspan/cmd/sitspan/internal/proof"
	"sitspan/cmd/sitspan/internal/record"
	"sitspan/cmd/sitspan/internal/report"
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
		s := step{WidthMM: w.WidthMM, Share: math.Max(0, w.Probability-before), Within: w.Probability, X: float64(i) * barSlot}
		s.Chosen = c.WidthMM != nil && *c.WidthMM == w.WidthMM
		s.Other = c.AlternativeMM != nil && *c.AlternativeMM == w.WidthMM
		s.H = s.Share * barFull
		before = w.Probability
		steps = append(steps, s)
	}
	return steps
}

// chosen is a visit's current record with the recommendations for its bikes.
func (d *Desk) chosen(r *http.Request, v store.Visit) (rec record.Record, recs []fit.Recommendation, err error) {
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
	advisor, err := d.shop.Advisor()
	if err != nil {
		return rec, nil, err
	}
	if rec, err = advice.Recommend(rec, advisor, rider); err != nil {
		return rec, nil, err
	}
	return rec, recs, json.Unmarshal(rec.Recommendations, &recs)
}

var errNoPosture = errors.New("no bike has a trunk angle or an allowance yet")

func (d *Desk) choicePage(w http.ResponseWriter, r *http.Request) error {
	v, err := d.visitOf(r)
	if err != nil {
		return err
	}
	data := struct {
		M        *record.Measurement
		Reviewer string
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
	if m, reviewer := rec.Current(); m.Spacing != nil {
		data.M, data.Reviewer = &m, reviewer
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
	if stock, err := d.shop.Stock(); err == nil {
		data.Currency = stock.Currency
	}
	return d.show(w, r, "choice", frame{Title: v.Alias, Step: 3, Visit: &v, Data: data})
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
	data := struct {
		Sheets  []store.Sheet
		Shown   *store.Sheet
		Langs   []words.Lang
		M       *record.Measurement
		Draft   bool
		Missing bool
	}{Sheets: sheets, Langs: words.Langs()}
	if len(sheets) > 0 {
		data.Shown = &sheets[0]
	}
	if v.Current != 0 {
		k, err := d.store.Record(r.Context(), v.Current)
		if err != nil {
			return err
		}
		if m, _ := k.Record.Current(); m.Spacing != nil {
			data.M, data.Draft = &m, m.Status == record.Review
		}
	}
	data.Missing = data.M == nil
	return d.show(w, r, "sheet", frame{Title: v.Alias, Step: 4, Visit: &v, Data: data})
}

func (d *Desk) makeSheet(w http.ResponseWriter, r *http.Request) error {
	v, err := d.visitOf(r)
	if err != nil {
		return err
	}
	lang, err := words.Parse(r.PostFormValue("language"))
	if err != nil {
		return &refusal{http.StatusBadRequest, err.Error()}
	}
	paper, err := report.ParsePaper(r.PostFormValue("paper"))
	if err != nil {
		return &refusal{http.StatusBadRequest, err.Error()}
	}
	rec, _, err := d.chosen(r, v)
	if err != nil && !errors.Is(err, errNoPosture) {
		return &refusal{http.StatusUnprocessableEntity, err.Error()}
	}
	var pdf bytes.Buffer
	o := report.SheetOptions{Lang: lang, Paper: paper, Shop: d.shop.Name, Overlay: d.overlayFor(r, v, rec, lang)}
	o.Proof = report.LastCheck(lang, proof.Last(d.checks(r.Context())))
	if err := report.WriteSheet(&pdf, rec, o); err != nil {
		return &refusal{http.StatusUnprocessableEntity, err.Error()}
	}
	if _, err := d.store.AddSheet(r.Context(), store.Sheet{VisitID: v.ID, RecordID: v.Current, Lang: string(lang)}, rec, pdf.Bytes()); err != nil {
		return err
	}
	return redirect(w, r, fmt.Sprintf("/visits/%d/sheet", v.ID))
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
	auto := rec.Measurement
	same := func(a, b *[2]float64) bool { return a != nil && b != nil && *a == *b }
	return auto.Status == record.Measured && same(auto.LeftPx, m.LeftPx) && same(auto.RightPx, m.RightPx)
}

func (d *Desk) sheetFile(w http.ResponseWriter, r *http.Request) error {
	name, isPDF := strings.CutSuffix(r.PathValue("name"), ".pdf")
	var id int64
	if _, err := fmt.Sscan(name, &id); err != nil || !isPDF || fmt.Sprint(id) != name {
		return store.ErrNotFound
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
