package report

import (
	_ "embed"
	"encoding/base64"
	"fmt"
	"html/template"
	"io"
	"net/url"
	"os"
	"time"

	"sitspan/cmd/sitspan/internal/audit/archive"
	"sitspan/cmd/sitspan/internal/audit/statistics"
	"sitspan/cmd/sitspan/internal/record"
	"sitspan/fit"
)

//go:embed report.html.tmpl
var reportTemplate string

// Bounds of the report: it is one file that a browser has to hold.
const (
	picturesAPage = 20
	mostPictures  = 2000 // some 20 MB
	mostListed    = 400  // rows of a list
	mostCallBacks = 2000 // rows of the list to call back
)

// page is what the report's template is filled with.
type page struct {
	*Account
	MadeAt                    string
	DifferencePlot, DriftPlot template.HTML
	UncertaintyPlot           template.HTML
	Keys                      []key
	CallBacks, Reviews        list
	Bad, Left                 list
	Outliers                  []*Row
	Faults                    []fit.Fault // of the readings
	MoreFaults                int
	Sheets                    []contactSheet
	LeftOut                   int // pictures that the contact sheet has no room for
	Settings                  string
	Caution                   string
	RateWords                 string
}

// writePage writes the page. Its pictures are read one at a time as it is
// written, so that memory does not grow with the folder.
func (a *Account) writePage(r archive.Results) error {
	p, err := a.page()
	if err != nil {
		return err
	}
	functions := template.FuncMap{
		"mm": mm, "signed": signedPtr, "percent": percentPtr, "span": span, "tenth": tenth, "files": files,
		"picture": func(row *Row) template.URL { return pictureOf(r, row) },
		"short":   func(s string) string { return s[:min(12, len(s))] },
		"sign":    signed, "ten": func(v float64) float64 { return 10 * v }, "tens": tenfold,
		"twice": a.twice,
		"link":  func(path string) template.URL { return template.URL((&url.URL{Path: path}).EscapedPath()) },
		"whole": whole, "set": typeset,
		"inc": func(i int) int { return i + 1 },
	}
	t, err := template.New("report").Funcs(functions).Parse(reportTemplate)
	if err != nil {
		return err
	}
	return r.WriteWhole(reportFile, func(w io.Writer) error { return t.Execute(w, p) })
}

func (a *Account) page() (page, error) {
	p := page{Account: a, MadeAt: time.Now().Format("2 January 2006, 15:04"), Caution: Caution}
	compared, best := a.Counted.pairs, a.Statistics.Best()
	plots := []struct {
		to   *template.HTML
		draw func() (string, error)
	}{
		{&p.UncertaintyPlot, func() (string, error) { return uncertaintyPlot(a.Counted.us) }},
		{
			&p.DriftPlot,
			func() (string, error) { return driftPlot(compared, best.Drifts, a.Counted.outliers) },
		},
	}
	if len(compared) > 0 {
		plots = append(plots, plots[0])
		plots[2].to = &p.DifferencePlot
		plots[2].draw = func() (string, error) { return differencePlot(compared, best.All) }
	}
	for _, plot := range plots {
		svg, err := plot.draw()
		if err != nil {
			return p, fmt.Errorf("the plots could not be drawn: %w", err)
		}
		*plot.to = template.HTML(svg)
	}
	p.Keys = keysOf(compared)
	l := a.lists
	p.CallBacks, p.Reviews, p.Bad, p.Left = l.callBacks.list(), l.reviews.list(), l.bad.list(), l.left.list()
	p.Outliers = l.outliers.list().Rows
	p.Sheets, p.LeftOut = contactSheets(l.pictures.list())
	p.Faults = a.Readings.Faults[:min(mostListed, len(a.Readings.Faults))]
	p.MoreFaults = len(a.Readings.Faults) - len(p.Faults)
	p.Settings = a.settingsWords()
	p.RateWords = a.rateWords()
	return p, nil
}

// titled are agreements under a heading; the heading is empty where they stand once.
type titled struct {
	Title string
	*statistics.Agreements
}

// twice are the agreements with all readings and, where there are outliers, without.
func (a *Account) twice() []titled {
	s := &a.Statistics
	if s.Without == nil {
		return []titled{{"", &s.Agreements}}
	}
	return []titled{{"With all", &s.Agreements}, {"Without " + s.outliersWords(), s.Without}}
}

// pictureOf is a thumbnail as part of the page; a row in words stands in for one
// that is gone.
func pictureOf(r archive.Results, row *Row) template.URL {
	data, err := os.ReadFile(r.Path(archive.ThumbnailOf(row.Overlay)))
	if row.Overlay == "" || err != nil {
		return ""
	}
	return template.URL("data:image/jpeg;base64," + base64.StdEncoding.EncodeToString(data))
}

// Tone is the row's class for its colour.
func (r *Row) Tone() string {
	switch {
	case r.CallBack:
		return "call"
	case r.Status == record.Review || r.Outlier:
		return "look"
	case r.Status == record.Refused:
		return "none"
	}
	return ""
}
