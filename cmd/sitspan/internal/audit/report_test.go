package audit

import (
	"context"
	"encoding/csv"
	"encoding/json"
	"encoding/xml"
	"fmt"
	"html"
	"net/url"
	"os"
	"path/filepath"
	"regexp"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"sitspan/cmd/sitspan/internal/audit/report"
	"sitspan/cmd/sitspan/internal/audit/statistics"
	"sitspan/cmd/sitspan/internal/record"
	"sitspan/cmd/sitspan/internal/words"
)

// reported runs an audit with readings and gives its page.
func reported(t *testing.T) (a *report.Account, out, page string) {
	return reportedIn(t, words.English)
}

func reportedIn(t *testing.T, lang words.Lang) (a *report.Account, out, page string) {
	dir := t.TempDir()
	readings := "file,spacing_mm,rider,trunk_deg,width_sold_mm,date,fitter\n"
	for i := range 30 {
		name := fmt.Sprintf(
			"<b>%02d & co #5 100%%.jpg", i,
		) // a name that a page must not take for its own words
		put(t, dir, name, measured(i, 100+float64(i)))
		readings += fmt.Sprintf(
			"%s,%d,rider %d,45,%d,20%d-0%d-11,%s\n", name, 103+i+i%3, i/2, 130+i%4*10, 17+i%4, 1+i%9,
			[]string{"A", "B"}[i%2],
		)
	}
	put(t, dir, "unsure.jpg", fakePhoto{Status: record.Review, Spacing: 130, U: 6, Code: "one_dent"})
	readings += "unsure.jpg,120,,,,,\nnowhere.jpg,120,,,,,\nunsure.jpg,wide,,,,,\n"
	r, err := statistics.ReadReadings(strings.NewReader(readings), "cards.csv")
	require.NoError(t, err)
	out = filepath.Join(t.TempDir(), "out")
	p := fakePlan(dir, out)
	p.Review.Readings, p.Review.Lang = r, lang
	a, err = Run(context.Background(), p)
	require.NoError(t, err)
	data, err := os.ReadFile(filepath.Join(out, "report.html"))
	require.NoError(t, err)
	return a, out, string(data)
}

// The page needs nothing but itself: what it shows is in it, and its links lead
// into the folder of results.
func TestReportNeedsNoNetwork(t *testing.T) {
	_, out, page := reported(t)
	for _, src := range regexp.MustCompile(`\ssrc="([^"]*)"`).FindAllStringSubmatch(page, -1) {
		assert.True(t, strings.HasPrefix(src[1], "data:image/jpeg;base64,"), src[1])
	}
	links := regexp.MustCompile(`\shref="([^"]*)"`).FindAllStringSubmatch(page, -1)
	require.NotEmpty(t, links)
	for _, href := range links {
		if id, inside := strings.CutPrefix(href[1], "#"); inside {
			assert.Contains(t, page, `id="`+id+`"`)
			continue
		}
		path, err := url.PathUnescape(html.UnescapeString(href[1]))
		require.NoError(t, err)
		assert.NotContains(t, href[1], "#5", "what follows would be taken for a place in the page")
		assert.FileExists(t, filepath.Join(out, path))
	}
	assert.NotRegexp(t, `(?i)<script|<link|@import|url\(`, page)
	for _, address := range regexp.MustCompile(`https?://[^"'\s<]*`).FindAllString(page, -1) {
		assert.Equal(t, "http://www.w3.org/2000/svg", address, "the name of a language, not a place")
	}
}

func TestReportSaysWhatMatters(t *testing.T) {
	a, _, page := reported(t)
	assert.Contains(t, page, a.Caution())
	assert.Equal(t, 3, strings.Count(page, `<svg class="plot"`), "differences, drift, uncertainties")
	assert.Contains(t, page, "&lt;b&gt;00 &amp; co #5 100%.jpg")
	assert.NotContains(t, page, "<b>00 &")
	require.NotEmpty(t, a.Statistics.CallBacks)
	for i := range len(a.Statistics.CallBacks) - 1 {
		assert.GreaterOrEqual(
			t, a.Statistics.CallBacks[i].Value, a.Statistics.CallBacks[i+1].Value, "worst first",
		)
	}
	assert.Contains(t, page, "a file of the audited folder, by its name from there")
	assert.Equal(t, 2, a.Statistics.Readings.Faults)
	assert.Equal(t, 1, a.Statistics.Readings.NotCompared)
	assert.Equal(t, 30, a.Statistics.Readings.Compared)
}

// The page and the summary speak each language: no key is left unsaid, no place
// unfilled, and the numbers are the same but for the decimal mark.
func TestReportInEveryLanguage(t *testing.T) {
	number := regexp.MustCompile(`\d+[.,]\d+`)
	var want []string
	for _, lang := range words.Langs() {
		a, _, page := reportedIn(t, lang)
		assert.Contains(t, page, `<html lang="`+string(lang)+`">`)
		assert.Contains(t, page, html.EscapeString(lang.Text("reason.one_dent.seen")), "why it is to be looked at")
		assert.Contains(t, page, html.EscapeString(lang.Text("reason.one_dent.do")), "and what to do")
		_, body, _ := strings.Cut(page, "<body>")
		body = regexp.MustCompile(`(?s)<svg.*?</svg>|data:[^"]*`).ReplaceAllString(body, "")
		for _, text := range append(a.Summary(), body) {
			assert.NotRegexp(t, `\baudit\.[a-z]|\{[a-z]+`, text, lang)
		}
		got := number.FindAllString(strings.ReplaceAll(strings.Join(a.Summary(), " "), ",", "."), -1)
		if want == nil {
			want = got
		}
		assert.Equal(t, want, got, lang)
	}
	assert.Greater(t, len(want), 8)
}

// Lines break only between links with a space between them: 46 pages made the
// report wider than the screen.
func TestRowsOfLinksCanBreak(t *testing.T) {
	_, _, page := reported(t)
	rows := regexp.MustCompile(`(?s)<nav.*?</nav>`).FindAllString(page, -1)
	require.Len(t, rows, 2)
	for _, row := range rows {
		assert.NotContains(t, row, "</a><a")
	}
}

// Plots are well-formed: browsers are lenient, printers of PDF are not.
func TestPlotsAreXML(t *testing.T) {
	a, _, page := reported(t)
	require.NotZero(t, a.Statistics.Tally.Files)
	for _, svg := range regexp.MustCompile(`(?s)<svg class="plot".*?</svg>`).FindAllString(page, -1) {
		d := xml.NewDecoder(strings.NewReader(svg))
		for {
			token, err := d.Token()
			if token == nil {
				break
			}
			require.NoError(t, err)
		}
	}
}

// rows.csv, rows.jsonl and the account say the same.
func TestRowsAgree(t *testing.T) {
	a, out, _ := reported(t)
	f, err := os.Open(filepath.Join(out, "rows.csv"))
	require.NoError(t, err)
	defer f.Close()
	lines, err := csv.NewReader(f).ReadAll()
	require.NoError(t, err)
	require.Len(t, lines, 1+a.Statistics.Tally.Files)
	column := map[string]int{}
	for i, n := range lines[0] {
		column[n] = i
	}
	for i, r := range rowsIn(t, out) {
		line := lines[1+i]
		assert.Equal(t, r.File, line[column["file"]])
		assert.Equal(t, r.Status, line[column["status"]])
		if r.Spacing != nil {
			assert.Equal(t, fmt.Sprint(*r.Spacing), line[column["spacing_mm"]])
			assert.InDelta(t, *r.Reading-*r.Spacing, *r.Difference, 1e-9)
			assert.Equal(t, "resolution", line[column["scale_source"]], "the scale is named in every row")
		}
	}
	data, err := os.ReadFile(filepath.Join(out, "statistics.json"))
	require.NoError(t, err)
	var s report.Statistics
	require.NoError(t, json.Unmarshal(data, &s))
	assert.Equal(t, a.Statistics, s)
}

// A call-back is by hand: 119 mm measured and 20 mm of allowance at 45 degrees
// (half-way between 0 mm at 15 and 40 mm at 75 degrees, the default table) need
// 139 mm; 130 mm were sold.
func TestCallBack(t *testing.T) {
	dir := t.TempDir()
	put(t, dir, "a.jpg", measured(1, 119))
	r, err := statistics.ReadReadings(
		strings.NewReader("file,spacing_mm,trunk_deg,width_sold_mm\na.jpg,110,45,130\n"), "cards.csv",
	)
	require.NoError(t, err)
	p := fakePlan(dir, filepath.Join(t.TempDir(), "out"))
	p.Review.Readings = r
	_, err = Run(context.Background(), p)
	require.NoError(t, err)
	row := rowsIn(t, p.Out)[0]
	assert.InDelta(t, 139, *row.Required, 1e-9)
	assert.InDelta(t, 9, *row.Shortfall, 1e-9)
	assert.Equal(t, report.Wider, row.Change)
	assert.Equal(t, 130.0, *row.Rounded, "110 mm and 20 mm, rounded up to the stock")
	assert.Less(t, *row.Holds, 1e-6)
	assert.InDelta(t, -9, *row.Difference, 1e-9)
	assert.InDelta(t, -9/4.176, *row.En, 0.001) // sqrt(4^2 + 1.2^2)
}

// What a list has no room for is counted, and the page says where it is.
func TestLongListsAreCut(t *testing.T) {
	dir := t.TempDir()
	readings := "file,spacing_mm\n"
	for i := range 400 + 50 {
		readings += fmt.Sprintf("nowhere/%d.jpg,120\n", i)
		putText(t, dir, fmt.Sprintf("%d.txt", i), "words")
	}
	put(t, dir, "a.jpg", measured(1, 119))
	p := fakePlan(dir, filepath.Join(t.TempDir(), "out"))
	p.Bench.Workers = 1
	var err error
	p.Review.Readings, err = statistics.ReadReadings(strings.NewReader(readings), "cards.csv")
	require.NoError(t, err)
	a, err := Run(context.Background(), p)
	require.NoError(t, err)
	assert.Equal(t, 400+50, a.Statistics.Readings.Faults)
	data, err := os.ReadFile(filepath.Join(p.Out, "report.html"))
	require.NoError(t, err)
	page := strings.Join(strings.Fields(string(data)), " ") // as a browser takes it
	assert.Equal(t, 400, strings.Count(page, `<td class="file">nowhere/`))
	assert.Contains(t, page, "More that are not listed: 50. Mend these and run the audit again with --resume.")
	assert.Contains(t, page, "50 more are in rows.csv.")
}

// A day of the readings is written as the page's language writes it.
func TestReportWritesDaysAsTheLanguageDoes(t *testing.T) {
	for lang, day := range map[words.Lang]string{
		words.English: "11 Mar 2018", words.German: "11.03.2018", words.Lang("fr"): "11/03/2018",
	} {
		_, _, page := reportedIn(t, lang)
		assert.Contains(t, page, ">"+day+"</td>", lang)
		assert.NotContains(t, page, ">2018-03-11<", lang)
	}
}
