package desk

import (
	"bytes"
	"fmt"
	"net/http"
	"reflect"
	"slices"

	"sitspan/calibration"
	"sitspan/calibration/artwork"
	"sitspan/cmd/sitspan/internal/framewords"
	"sitspan/cmd/sitspan/internal/proof"
	"sitspan/cmd/sitspan/internal/report"
	"sitspan/cmd/sitspan/internal/sentence"
	"sitspan/cmd/sitspan/internal/shop"
	"sitspan/imprint/codes"
)

// shopRoutes are the screens of the shop itself: settings, proof, back-up, and what was deleted.
func (d *Desk) shopRoutes(page func(string, func(http.ResponseWriter, *http.Request) error)) {
	page("GET /settings", d.settingsPage)
	page("GET /settings/frame", d.framePage)
	page("POST /settings/frame", d.saveFrame)
	page("GET /settings/frame.pdf", d.framePDF)
	page("GET /settings/pads", d.padsPage)
	page("GET /settings/pad", d.padPage)
	page("POST /settings/pad", d.savePad)
	page("GET /settings/stock", d.stockPage)
	page("POST /settings/stock", d.saveStock)
	page("GET /settings/allowances", d.allowancesPage)
	page("POST /settings/allowances", d.saveAllowances)
	page("GET /settings/name", d.namePage)
	page("POST /settings/name", d.saveName)
	page("GET /settings/logo.png", d.logoFile)
	page("POST /settings/logo", d.saveLogo)
	page("POST /settings/logo/remove", d.removeLogo)
}

// shopStep is one thing to set up, as the page of all settings lists it.
type shopStep struct {
	Key, Path string
	Done      bool
	Text      string // how it stands
}

func (d *Desk) shopSteps(r *http.Request) []shopStep {
	s, lang := d.shopNow(), language(r)
	steps := []shopStep{{"frame", "/settings/frame", s.Print != nil, say(lang, "shop.frame.open")}}
	if p := s.Print; p != nil {
		key, x := "shop.frame.undated", lang.Number(100*p.ScaleX, 1)
		day := shopDay(r, p.Date)
		if day != "" {
			key = "shop.frame.done"
		}
		steps[0].Text = say(lang, key, "x", x, "day", day)
	}
	stock := shopStep{"stock", "/settings/stock", s.StockFile != "" || len(s.WidthsMM) > 0,
		say(lang, "shop.stock.open")}
	if all, err := s.Stock(); err == nil && stock.Done {
		stock.Text = say(lang, "shop.stock.done", "n", len(all.Models), "widths", len(all.Widths()))
	}
	pads := shopStep{"pads", "/settings/pads", !reflect.DeepEqual(s.Pads, shop.DefaultPads()),
		say(lang, "shop.pads.open")}
	if pads.Done {
		pads.Text = say(lang, "shop.pads.done", "n", len(s.Pads))
	}
	allowances := shopStep{"allowances", "/settings/allowances",
		!reflect.DeepEqual(s.Allowances, shop.Default().Allowances), say(lang, "shop.allowances.open")}
	if allowances.Done {
		allowances.Text = say(lang, "shop.allowances.done", "n", len(s.Allowances.Rows()))
	}
	name := shopStep{"name", "/settings/name", s.Name != "", say(lang, "shop.name.open")}
	if name.Done {
		name.Text = s.Name
	}
	proved := shopStep{"proof", "/proof", false, say(lang, "shop.proof.open")}
	if last := proof.Last(d.checks(r.Context())); last != nil {
		proved.Done, proved.Text = last.Verdict.Trusted(), report.LastCheck(lang, last)
	}
	saved := shopStep{"backup", "/settings/backup", false, say(lang, "shop.backup.open")}
	if last := d.lastBackedUp(); !last.IsZero() {
		saved.Done, saved.Text = true, say(lang, "backup.last", "day", lang.ShortDate(last))
	}
	return append(steps, stock, pads, allowances, name, proved, saved)
}

func (d *Desk) settingsPage(w http.ResponseWriter, r *http.Request) error {
	steps := d.shopSteps(r)
	left := 0
	for _, s := range steps {
		if !s.Done {
			left++
		}
	}
	return d.show(w, r, "settings", frame{Title: d.say(r, "shop.title"), Data: struct {
		Steps []shopStep
		Left  int
	}{steps, left}})
}

// printLine is a print that was measured.
type printLine struct {
	Paper   bool // the frame on marking paper, not on card
	Day     string
	Percent float64 // of its size that it was printed at
}

// printsOf are the prints that were measured, the one on card first.
func printsOf(r *http.Request, s shop.Shop) (lines []printLine) {
	for _, p := range []*shop.Print{s.Print, s.PrintPaper} {
		if p != nil {
			lines = append(lines, printLine{p == s.PrintPaper, shopDay(r, p.Date), 100 * p.ScaleX})
		}
	}
	return lines
}

// frameData is what the frame's page shows.
type frameData struct {
	form
	Prints   []printLine
	Warnings []sentence.Spoken
	Doubt    string // why the readings are asked about; empty for nothing
	DotsList []int
}

func (d *Desk) showFrame(w http.ResponseWriter, r *http.Request, status int, f form,
	doubt error) error {
	data := frameData{form: f, Prints: printsOf(r, d.shopNow())}
	if doubt != nil {
		data.Doubt = capital(f.lang.Error(doubt))
	}
	for n := range artwork.DotSheets {
		data.DotsList = append(data.DotsList, n+1)
	}
	if p := d.shopNow().Print; p != nil {
		read, err := calibration.VerifyPrint(calibration.BarReading{X: p.BarMM, Y: p.BarYMM, U: p.BarUMM})
		for _, warning := range read.Warnings {
			said := codes.OfPrint(string(warning.Code)).With(warning.Value)
			spoken := sentence.Spoken{Seen: sentence.Of(f.lang, said), Do: sentence.Do(f.lang, said)}
			if err == nil {
				data.Warnings = append(data.Warnings, speak(spoken))
			}
		}
	}
	return d.showStatus(w, r, status, "settings-frame", frame{Title: d.say(r, "shop.frame"), Data: data,
		Here: "/settings/frame"})
}

func (d *Desk) framePage(w http.ResponseWriter, r *http.Request) error {
	f := d.newForm(r)
	if p := d.shopNow().Print; p != nil {
		for name, mm := range map[string]float64{"bar_x": p.BarMM, "bar_y": p.BarYMM} {
			if mm > 0 {
				f.Values[name] = f.lang.Plain(mm)
			}
		}
	}
	return d.showFrame(w, r, http.StatusOK, f, nil)
}

// saveFrame keeps what a steel rule read on both bars. What looks wrong is asked about before.
func (d *Desk) saveFrame(w http.ResponseWriter, r *http.Request) error {
	f := d.typedForm(r)
	low, high := 1-calibration.MaxScaleError, 1+calibration.MaxScaleError
	bars := calibration.ControlFrame
	read := calibration.BarReading{U: calibration.DefaultBarU,
		X: f.needed("bar_x", "shop.bar.x", "mm", bars.BarX.Nominal*low, bars.BarX.Nominal*high),
		Y: f.number("bar_y", "shop.bar.y", "mm", bars.BarY.Nominal*low, bars.BarY.Nominal*high, 0)}
	if !f.good() {
		return d.showFrame(w, r, http.StatusUnprocessableEntity, f, nil)
	}
	print, err := calibration.VerifyPrint(read)
	if err != nil {
		return &refusal{http.StatusUnprocessableEntity, f.lang.Error(err)}
	}
	if doubt := print.Doubtful(); doubt != nil && f.Values["sure"] != "yes" {
		return d.showFrame(w, r, http.StatusConflict, f, doubt)
	}
	of := shop.OnCard
	if f.Values["for"] == shop.Paper {
		of = shop.OnPaper
	}
	err = d.saveShop(f.Was, func(path string) error {
		return shop.SavePrint(path, of, shop.VerifiedPrint(read, print, now()))
	})
	return d.savedTo(w, r, f, err, "/settings/frame?saved", d.bothReadings(f, of),
		func(status int, f form) error { return d.showFrame(w, r, status, f, nil) })
}

// bothReadings are the page's readings of a print's bars and those that are kept.
func (d *Desk) bothReadings(f form, of shop.PrintOf) []difference {
	s := d.shopNow()
	p := map[shop.PrintOf]*shop.Print{shop.OnCard: s.Print, shop.OnPaper: s.PrintPaper}[of]
	if p == nil {
		p = &shop.Print{}
	}
	said := func(mm float64) string {
		if mm == 0 {
			return ""
		}
		return f.lang.Plain(mm)
	}
	return []difference{f.both("bar_x", "shop.bar.x", said(p.BarMM)),
		f.both("bar_y", "shop.bar.y", said(p.BarYMM))}
}

// framePDF is the frame to print, or a sheet of dots.
func (d *Desk) framePDF(w http.ResponseWriter, r *http.Request) error {
	q := r.URL.Query()
	paper, err := artwork.ParsePaper(q.Get("paper"))
	if err != nil {
		return &refusal{http.StatusBadRequest, language(r).Error(err)}
	}
	o := artwork.Options{Paper: paper, Medium: calibration.Foam, Words: framewords.AtDesk(language(r))}
	if q.Get("for") == shop.Paper {
		o.Medium = calibration.Paper
	}
	draw := func() (*artwork.Drawing, error) { return artwork.Draw(calibration.ControlFrame, o) }
	name := "frame"
	if dots := q.Get("dots"); dots != "" {
		sheet := slices.Index([]string{"", "1", "2", "3", "4"}, dots)
		draw = func() (*artwork.Drawing, error) { return artwork.DrawDots(sheet, o) }
		name = "dots"
	}
	drawing, err := draw()
	if err != nil {
		return &refusal{http.StatusBadRequest, language(r).Error(err)}
	}
	var pdf bytes.Buffer
	if err := drawing.Write(&pdf, artwork.PDF, artwork.DefaultDPI); err != nil {
		return err
	}
	w.Header().Set("Content-Type", "application/pdf")
	w.Header().Set("Content-Disposition", fmt.Sprintf("inline; filename=%q", "sitspan-"+name+".pdf"))
	_, err = w.Write(pdf.Bytes())
	return ignoreGone(err)
}
