package report

import (
	_ "embed"
	"encoding/base64"
	"fmt"
	"html/template"
	"io"
	"net/url"
	"os"
	"strings"
	"time"

	"sitspan/cmd/sitspan/internal/audit/archive"
	"sitspan/cmd/sitspan/internal/audit/statistics"
	"sitspan/cmd/sitspan/internal/record"
	"sitspan/cmd/sitspan/internal/words"
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
	RateWords                 string
}

// writePage writes the page. Its pictures are read one at a time as it is
// written, so that memory does not grow with the folder.
func (a *Account) writePage(r archive.Results) error {
	p, err := a.page()
	if err != nil {
		return err
	}
	functions := a.functions()
	functions["picture"] = func(row *Row) template.URL { return pictureOf(r, row) }
	t, err := template.New("report").Funcs(functions).Parse(reportTemplate)
	if err != nil {
		return err
	}
	return r.WriteWhole(reportFile, func(w io.Writer) error { return t.Execute(w, p) })
}

// functions are what the template may call.
func (a *Account) functions() template.FuncMap {
	l := speech{a.Lang}
	return template.FuncMap{
		"t":       l.marked,
		"plain":   l.plain,
		"label":   l.label,
		"lang":    func() string { return string(a.Lang) },
		"said":    a.Lang.Error,
		"day":     l.day,
		"mm":      l.mm,
		"signed":  l.signedPtr,
		"percent": l.percentPtr,
		"span":    l.span,
		"between": l.between,
		"tenth":   l.tenth,
		"files":   l.files,
		"num":     l.lang.Number,
		"sign":    l.signed,
		"whole":   l.whole,
		"set":     typeset,
		"ten":     func(v float64) float64 { return 10 * v },
		"tens":    tenfold,
		"twice":   a.twice,
		"short":   func(s string) string { return s[:min(12, len(s))] },
		"link":    func(path string) template.URL { return template.URL((&url.URL{Path: path}).EscapedPath()) },
		"inc":     func(i int) int { return i + 1 },
		"join":    func(list []string) string { return strings.Join(list, ", ") },
		"status":  func(status string) string { return l.named("audit.status.", status) },
		"scale":   func(source string) string { return l.named("explain.scale_source.", source) },
		"why":     func(r *Row) string { return typeset(r.said(a.Lang).Seen) },
		"do":      func(r *Row) string { return typeset(r.said(a.Lang).Do) },
		"same":    func(r *Row) string { return l.say("by."+r.By, words.Values{"file": r.Of}) },
	}
}

// day is a date of the readings as the language writes it; a month or a year alone stays as it is.
func (s speech) day(text string) string {
	t, err := time.Parse(time.DateOnly, text)
	if err != nil {
		return text
	}
	return s.lang.ShortDate(t)
}

// plain is a text with name, value pairs for its places.
func (s speech) plain(key string, pairs ...any) string {
	v := words.Values{}
	for i := 0; i+1 < len(pairs); i += 2 {
		v[fmt.Sprint(pairs[i])] = pairs[i+1]
	}
	return s.say(key, v)
}

// marked is plain with its line breaks and its indices set.
func (s speech) marked(key string, pairs ...any) template.HTML {
	text := template.HTMLEscapeString(s.plain(key, pairs...))
	return template.HTML(strings.NewReplacer("\n", "<br>", "E_n", "E<sub>n</sub>").Replace(text))
}

// label is a column's name without its unit.
func (s speech) label(column string) string {
	text := strings.ReplaceAll(s.say("col."+column, nil), "\n", " ")
	return strings.TrimSuffix(strings.TrimSuffix(text, " mm"), ",")
}

// named is a code's word, or the code where it has none.
func (s speech) named(family, code string) string {
	if !words.Has(words.English, family+code) {
		return code
	}
	return s.lang.Text(family + code)
}

func (a *Account) page() (page, error) {
	now, says := time.Now(), speech{a.Lang}
	p := page{Account: a, MadeAt: a.Lang.Date(now) + now.Format(", 15:04")}
	compared := a.Counted.pairs
	plots := []struct {
		to   *template.HTML
		draw func() (string, error)
	}{
		{&p.UncertaintyPlot, func() (string, error) { return says.uncertaintyPlot(a.Counted.us) }},
		{&p.DriftPlot, func() (string, error) {
			return says.driftPlot(compared, a.Statistics.Best().Drifts, a.Counted.outliers)
		}},
	}
	if len(compared) > 0 {
		plots = append(plots, plots[0])
		plots[2].to, plots[2].draw = &p.DifferencePlot, func() (string,
			error) {
			return says.differencePlot(compared, a.Statistics.Best().All)
		}
	}
	for _, plot := range plots {
		svg, err := plot.draw()
		if err != nil {
			return p, words.Fault("error.audit.plots", words.Values{"why": err})
		}
		*plot.to = template.HTML(svg)
	}
	p.Keys = says.keysOf(compared)
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
	l, s := speech{a.Lang}, &a.Statistics
	if s.Without == nil {
		return []titled{{"", &s.Agreements}}
	}
	return []titled{
		{l.say("with_all", nil), &s.Agreements},
		{l.say("title_without", words.Values{"outliers": l.outliers(s)}), s.Without},
	}
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
