package report

import (
	"bytes"
	"encoding/json"
	"errors"
	"fmt"
	"image"
	"image/color"
	"image/jpeg"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"sitspan/cmd/sitspan/internal/record"
	"sitspan/cmd/sitspan/internal/words"
	"sitspan/fit"
)

// holdsOnOnePage asserts what every sheet must be: one page, all text within
// the margins, and no text set over another. It returns the page's text.
func holdsOnOnePage(t require.TestingT, rec record.Record, o SheetOptions, name string) string {
	pdf := rendered(t, rec, o)
	require.Equal(t, 1, pageCount(pdf), name)
	w, h := o.Paper.size()
	texts := textsIn(t, pdf, h)
	for i, a := range texts {
		// coordinates and sizes are written to 0.01 pt
		rounding := 0.005*mmPerPoint + a.width*0.005/a.pt
		inside := a.x >= sheetMargin-rounding && a.x+a.width <= w-sheetMargin+2*rounding &&
			a.y >= sheetMargin && a.y <= h-sheetMargin+rounding
		if !inside {
			require.Fail(t, "text beyond the margins", "%s: %q at %.2f, %.2f mm, %.2f mm long", name, a.text, a.x, a.y,
				a.width)
		}
		for _, b := range texts[:i] {
			if overlap(a, b) {
				require.Fail(t, "text over text", "%s: %q is set over %q", name, a.text, b.text)
			}
		}
	}
	text := wordsOf(texts)
	require.NotRegexp(t, rawKey, text, name)
	return text
}

// overlap compares the boxes from the baseline to the height of small letters,
// 0.52 of the size.
func overlap(a, b pdfText) bool {
	const slack = 0.05 // mm
	const small = 0.52 * mmPerPoint
	return a.y-small*a.pt+slack < b.y && b.y-small*b.pt+slack < a.y && a.x+slack < b.x+b.width &&
		b.x+slack < a.x+a.width
}

var papers = []Paper{A4, Letter}

// The sheets that were looked at: every language, paper and record, one bike and
// many, no complaint and all, the longest realistic names.
func TestSheetsHoldOnOnePage(t *testing.T) {
	six := append(append([]fit.Bike{}, threeBikes...), threeBikes...)
	riders := map[string]fit.Rider{
		"one bike": {MassKg: 78, Bikes: oneBike},
		"three bikes": {MassKg: 86, Bikes: threeBikes, Complaints: []fit.Complaint{fit.Numbness,
			fit.ChafedThighs}},
		"all complaints": {MassKg: 86, Bikes: oneBike, Complaints: fit.Complaints()},
		"three, all":     {MassKg: 86, Bikes: threeBikes, Complaints: fit.Complaints()},
		"six, all":       {MassKg: 86, Bikes: six, Complaints: fit.Complaints()},
		"twelve bikes, one": {Bikes: append(append([]fit.Bike{}, six...), six...),
			Complaints: []fit.Complaint{fit.OneSidedPain}},
		"outside and no mass": {Bikes: []fit.Bike{{Use: fit.City, Posture: fit.AllowanceByHand(80, 0)}}},
	}
	for _, file := range []string{"schema1-foam.json", "schema1-paper-review.json"} { // a draft is higher
		for who, rider := range riders {
			rec := advised(t, kept(t, file), rider)
			rec.Alias = longAlias
			for _, paper := range papers {
				for _, lang := range words.Langs() {
					name := fmt.Sprintf("%s, %s, %s, %s", file, who, paper, lang)
					text := holdsOnOnePage(t, rec, SheetOptions{Lang: lang, Paper: paper, Shop: longShop}, name)
					assert.Contains(t, text, longAlias, name)
					assert.Contains(t, text, "Žofie Łukaszewicz", name)
					assert.Contains(t, text, lang.Number(*current(rec).Spacing, 1), name)
				}
			}
		}
	}
}

// onPage is a text as it is read back: with simple spaces.
func onPage(text string) string { return strings.Join(strings.Fields(text), " ") }

func current(rec record.Record) record.Measurement {
	m, _ := rec.Current()
	return m
}

// Whatever bikes, complaints and names there are, the sheet holds on one page,
// or says in one line that it cannot.
func TestAnySheetHoldsOnOnePage(t *testing.T) {
	foam := kept(t, "schema1-foam.json")
	rapid.Check(t, func(t *rapid.T) {
		letters := rapid.StringOfN(rapid.SampledFrom([]rune("aeimnrtWŁŽžßΩЗя-. ")), 0, 70, -1)
		var r fit.Rider
		r.MassKg = float64(rapid.IntRange(40, 140).Draw(t, "kg"))
		for _, c := range fit.Complaints() {
			if rapid.Bool().Draw(t, string(c)) {
				r.Complaints = append(r.Complaints, c)
			}
		}
		for range rapid.IntRange(1, 5).Draw(t, "bikes") {
			r.Bikes = append(r.Bikes, fit.Bike{
				Name: letters.Draw(t, "bike"), Use: rapid.SampledFrom(fit.Uses()).Draw(t, "use"),
				Posture: fit.TrunkAngle(rapid.Float64Range(10, 80).Draw(t, "trunk"),
					rapid.Float64Range(0, 8).Draw(t, "u")),
			})
		}
		rec := advised(t, foam, r)
		rec.Alias = letters.Draw(t, "alias")
		o := SheetOptions{
			Lang: rapid.SampledFrom(words.Langs()).Draw(t, "lang"), Paper: rapid.SampledFrom(papers).Draw(t, "paper"),
			Shop: letters.Draw(t, "shop"),
		}
		if rapid.Bool().Draw(t, "logo") {
			o.Logo = image.NewGray(image.Rect(0, 0, rapid.IntRange(1, 900).Draw(t, "logo width"), 120))
		}
		for range rapid.IntRange(0, 4).Draw(t, "address") {
			o.Address += letters.Draw(t, "line") + "\n"
		}
		holdsOnOnePage(t, rec, o, "")
	})
}

// However tight the page, nothing of what can hurt is left out, and what is left
// out is named.
func TestTheTightestSheetKeepsItsCautions(t *testing.T) {
	six := append(append([]fit.Bike{}, threeBikes...), threeBikes...)
	rec := advised(t, kept(t, "schema1-foam.json"), fit.Rider{MassKg: 86, Bikes: six,
		Complaints: fit.Complaints()})
	rec.Alias = longAlias
	for _, lang := range words.Langs() {
		text := holdsOnOnePage(t, rec, SheetOptions{Lang: lang, Paper: Letter, Shop: longShop}, string(lang))
		assert.Contains(t, text, onPage(lang.Note(physician.Code, nil)))
		for _, code := range []string{"caution.limits", "caution.advice_only"} {
			assert.Contains(t, text, onPage(lang.Note(code, nil)))
		}
		for _, c := range fit.Complaints() {
			g, _ := fit.ComplaintGuideFor(c)
			assert.Contains(t, text, onPage(lang.Note(g.Stop[0].Code, nil)), "when to stop, %s", c)
		}
		before, _, _ := strings.Cut(lang.Text("sheet.left_out"), "{names}")
		assert.Contains(t, text, onPage(before), "what has no room is named")
		assert.Equal(t, 2, strings.Count(text, "Grandmother's tandem"), "every bike is there")
	}
}

// A rider without any complaint takes the page home too.
func TestThePhysiciansLineIsOnEverySheet(t *testing.T) {
	for _, rec := range []record.Record{
		kept(t, "schema1-scan.json"), advised(t, kept(t, "schema1-foam.json"), fit.Rider{Bikes: oneBike}),
	} {
		for _, lang := range words.Langs() {
			assert.Contains(t, holdsOnOnePage(t, rec, SheetOptions{Lang: lang}, ""),
				onPage(lang.Note(physician.Code, nil)))
		}
	}
}

func TestSheetSaysTheNumbersInWords(t *testing.T) {
	rec := advised(t, kept(t, "schema1-foam.json"), fit.Rider{MassKg: 78, Bikes: oneBike})
	en := holdsOnOnePage(t, rec, SheetOptions{}, "en")
	for _, want := range []string{
		// 121.458 with U = 2.232, see the record; 119.2 to 123.7 widened to whole mm
		"121.5 mm ± 2.3 mm", "lies within 2.3 mm of this number. Here that is between 119 and 124 mm.",
		// equation (3) at 45 degrees: half-way from 15 to 75, half of 40 mm
		"sit bones 121.5", "+ posture 20.0", "width needed 141.5 mm",
		"Saddle width 150 mm", "Siskin, 150 mm", "Runner-up: Wren 1, 150 mm – there are no dampers for it.",
		"Damper: medium.",
		"150 mm is wide enough with 99.9 % probability (141.5 mm needed).", "25 November 2025", "Velo Invented",
		"Rider 17", "common practice", "sitspan 0.1.0 · record d58ddd16",
	} {
		assert.Contains(t, en, want)
	}
	de := holdsOnOnePage(t, rec, SheetOptions{Lang: words.German}, "de")
	for _, want := range []string{
		"121,5 mm ± 2,3 mm", "Hier ist das zwischen 119 und 124 mm.", "nötige Breite 141,5 mm",
		"Sattelbreite 150 mm", "Zweite Wahl: Wren 1, 150 mm",
		"Dämpfer: mittel.", "25. November 2025", "übliche Praxis",
	} {
		assert.Contains(t, de, want)
	}
	assert.NotContains(t, de, "saddle")
}

// No more personal data than the alias: not the mass, by which fit ranks.
func TestSheetKeepsTheMassToItself(t *testing.T) {
	rec := advised(t, kept(t, "schema1-foam.json"), fit.Rider{MassKg: 87.3, Bikes: threeBikes,
		Complaints: []fit.Complaint{fit.Numbness}})
	for _, lang := range words.Langs() {
		text := holdsOnOnePage(t, rec, SheetOptions{Lang: lang}, "")
		assert.NotContains(t, text, "87")
		assert.Contains(t, text, "130 kg", "the saddle's limit is there")
	}
	pdf := rendered(t, rec, SheetOptions{})
	head, _, _ := bytes.Cut(pdf, []byte("stream"))
	assert.NotContains(t, string(pdf[len(pdf)-3000:])+string(head), "Rider 17",
		"nor is the alias in the file's properties")
}

func TestAModelsUnknownLimitIsAlwaysSaid(t *testing.T) {
	a := fit.DefaultAdvisor()
	var err error
	a.Stock, err = fit.ReadStock(strings.NewReader("model,use,width_mm\nAvocet,gravel,150\n"), "stock.csv")
	require.NoError(t, err)
	rec := advisedBy(t, a, kept(t, "schema1-foam.json"), fit.Rider{MassKg: 87, Bikes: oneBike})
	assert.Contains(t, holdsOnOnePage(t, rec, SheetOptions{}, ""),
		"its limit for the rider's mass is not stated: ask its maker")
}

// Saddles that no reason tells apart are said to be equal; no runner-up is named.
func TestSheetSaysThatSaddlesAreEqual(t *testing.T) {
	stock,
		err := fit.ReadStock(strings.NewReader("model,use,width_mm,qty\nC,road,150,1\nA,road,150,2\n"+
		"B,road,150,1\n"), "five.csv")
	require.NoError(t, err)
	a := fit.DefaultAdvisor()
	a.Stock = stock
	rider := fit.Rider{Bikes: []fit.Bike{{Use: fit.Road, Posture: fit.AllowanceByHand(20, 0)}}}
	page := holdsOnOnePage(t, advisedBy(t, a, kept(t, "schema1-foam.json"), rider), SheetOptions{}, "")
	assert.Contains(t, page, "Equal in every reason, in no order: A, B, C.")
	assert.NotContains(t, page, "Runner-up")
}

// Each verdict shows what a rider needs of it.
func TestSheetShowsEveryVerdict(t *testing.T) {
	bike := func(mm, u float64) fit.Rider {
		return fit.Rider{Bikes: []fit.Bike{{Use: fit.Touring, Posture: fit.AllowanceByHand(mm, u)}}}
	}
	tests := []struct {
		name  string
		rider fit.Rider
		want  []string
	}{
		{"clear", bike(20, 0), []string{"Saddle width 150 mm",
			"150 mm is wide enough with 99.9 % probability (141.5 mm needed)."}},
		{"between", bike(27, 0), []string{"Between two sizes 160 or 150 mm", "The other size: Dunlin Tour, 150 mm",
			"A test ride on both widths decides"}},
		{"again", bike(27, 12), []string{"Saddle width Measure again", "None before that.",
			"Measure again before choosing", "chafes the thighs"}},
		{"too wide", bike(80, 0), []string{"Not in stock: order 210 mm",
			"None in stock: to be ordered in this width.", "Nothing here is wide enough"}},
	}
	for _, tt := range tests {
		rec := advised(t, kept(t, "schema1-foam.json"), tt.rider)
		text := holdsOnOnePage(t, rec, SheetOptions{}, tt.name)
		for _, want := range tt.want {
			assert.Contains(t, text, want, tt.name)
		}
	}
}

func TestSheetsOfOtherRecords(t *testing.T) {
	review := holdsOnOnePage(t, kept(t, "schema1-paper-review.json"), SheetOptions{}, "review")
	assert.Contains(t, review, "Not checked yet.")
	assert.Contains(t, review, "No posture was given")
	reviewed := holdsOnOnePage(t, kept(t, "schema1-paper-reviewed.json"), SheetOptions{}, "reviewed")
	assert.Contains(t, reviewed, "Checked and set by hand on 26 November 2025.")
	assert.NotContains(t, reviewed, "workshop 2", "the reviewer is no rider's business")
	assert.NotContains(t, reviewed, "Not checked yet")
	assert.Contains(t, reviewed, "100.5 mm", "the reviewer's distance")
	assert.Contains(t, holdsOnOnePage(t, kept(t, "schema1-scan.json"), SheetOptions{}, "scan"),
		"Read off a scan")

	err := WriteSheet(&bytes.Buffer{}, kept(t, "schema1-refused.json"), SheetOptions{})
	assert.ErrorIs(t, err, errNoNumber)
	broken := kept(t, "schema1-foam.json")
	broken.Recommendations = json.RawMessage(`{"a": 1}`)
	assert.ErrorContains(t, WriteSheet(&bytes.Buffer{}, broken, SheetOptions{}),
		"recommendations are not readable")
}

// A record of `measure` with a posture but no bikes holds a width only.
func TestSheetOfAWidthAlone(t *testing.T) {
	rec := kept(t, "schema1-foam.json")
	_, c, err := fit.DefaultAdvisor().Width(estimateOf(rec.Measurement), fit.TrunkAngle(45, 2))
	require.NoError(t, err)
	rec.Measurement.Width, err = json.Marshal(c)
	require.NoError(t, err)
	deg, u := 45.0, 2.0
	rec.Settings.TrunkDeg, rec.Settings.TrunkU = &deg, &u
	text := holdsOnOnePage(t, rec, SheetOptions{}, "")
	assert.Contains(t, text, "Saddle width 150 mm")
	assert.Contains(t, text, "trunk 45° above the horizontal")
	assert.Contains(t, text, "No model was chosen")
	assert.Contains(t, text, "not this shop's stock")

	r, err := readingOf(rec)
	require.NoError(t, err)
	for _, w := range c.Widths { // what is drawn is what was chosen by
		assert.InDelta(t, w.Probability, r.advice[0].Requirement.ProbabilityWithin(w.WidthMM), 1e-3,
			"u is kept to a micrometre")
	}
}

// Advised records are kept in testdata: what an old version chose must print.
func TestKeptAdviceStillPrints(t *testing.T) {
	rec, err := record.Load("testdata/advised-1.json")
	require.NoError(t, err)
	text := holdsOnOnePage(t, rec, SheetOptions{}, "")
	for _, want := range []string{"Łukasz Ślązak", "Winter bike", "150 or 140 mm", "Siskin, 150 mm",
		"160 or 150 mm", "Dunlin Tour, 160 mm", "170 mm", "Numbness", "Chafed thighs"} {
		assert.Contains(t, text, want)
	}
}

func TestNamesOfManyScripts(t *testing.T) {
	rec := kept(t, "schema1-foam.json")
	for _, name := range []string{"Łukasz Ślązak", "Žofie", "Ιωάννα", "Зоя",
		"Nguyễn Thị Hường",
		"Þórdís Øðinsdóttir", "Ąžuolė", "İğşı", "Zoe\u0308", "two\nlines"} {
		rec.Alias = name
		text := holdsOnOnePage(t, rec, SheetOptions{}, name)
		assert.Contains(t, text, composed(oneLine(name)))
	}
	assert.Equal(t, "Zoë", composed("Zoe\u0308"), "accents that stand alone are joined")
	for name, letters := range map[string]string{"田中さん": "田中さん", "عمر": "عمر",
		"שרה":    "שרה",
		"Anna 🚲": "🚲",
		"ქეთი":   "ქეთი"} {
		rec.Alias = name
		err := WriteSheet(&bytes.Buffer{}, rec, SheetOptions{})
		require.ErrorContains(t, err, fmt.Sprintf("the alias %q cannot be printed: the sheet's font has Latin, "+
			"Greek and Cyrillic letters, not %q", name, letters))
		for _, l := range words.Langs() { // the desk says it, too: whole in its language, and without a flag
			said := l.Error(err)
			assert.True(t, strings.HasPrefix(said, l.Text("error.sheet.letters.alias")), said)
			assert.True(t, strings.HasSuffix(said, l.Text("error.sheet.letters")[strings.LastIndex(
				l.Text("error.sheet.letters"), ";"):]), said)
			assert.NotContains(t, said, "--")
		}
	}
	rec.Alias = ""
	assert.ErrorContains(t, WriteSheet(&bytes.Buffer{}, rec, SheetOptions{Shop: "自転車"}), "the shop's name")
	named := advised(t, rec, fit.Rider{Bikes: []fit.Bike{{Name: "自転車", Posture: fit.TrunkAngle(40, 2)}}})
	assert.ErrorContains(t, WriteSheet(&bytes.Buffer{}, named, SheetOptions{}), "the bike's name")
}

// The picture goes in as pixels alone: nothing of the file's EXIF, such as the
// place where it was taken, and not the overlay's strip of words.
func TestPhotoGoesInWithoutItsMetadata(t *testing.T) {
	img := image.NewNRGBA(image.Rect(0, 0, 400, 500))
	for y := range 500 {
		for x := range 400 {
			img.Set(x, y, color.NRGBA{uint8(x / 2), uint8(y / 3), 90, 255})
		}
	}
	var plain bytes.Buffer
	require.NoError(t, jpeg.Encode(&plain, img, nil))
	exif := append([]byte{0xFF, 0xE1, 0, 30}, []byte("Exif\x00\x00GPS 48.1351N 11.5820E..")...)
	tagged := append(append(append([]byte{}, plain.Bytes()[:2]...), exif...), plain.Bytes()[2:]...)
	path := filepath.Join(t.TempDir(), "x.jpg")
	require.NoError(t, os.WriteFile(path, tagged, 0o644))
	overlay, err := LoadOverlay(path)
	require.NoError(t, err)

	rec := kept(t, "schema1-foam.json") // 2016 x 1512: 4 to 3
	pdf := rendered(t, rec, SheetOptions{Overlay: overlay})
	assert.Equal(t, 1, pageCount(pdf))
	assert.NotContains(t, string(pdf), "GPS")
	assert.Contains(t, string(pdf), "/Width 400\n/Height 300\n", "the strip below the photo is left out")
	text := wordsOf(textsIn(t, pdf, 297))
	assert.Contains(t, text, "Your imprint with the control frame on it")
	assert.NotContains(t, text, "LEFT", "no plan beside it")

	for _, bad := range []struct{ content, want string }{{"no picture", "is no PNG or JPEG"},
		{string(plain.Bytes()[:700]), "cannot be read"}} {
		require.NoError(t, os.WriteFile(path, []byte(bad.content), 0o644))
		_, err = LoadOverlay(path)
		assert.ErrorContains(t, err, bad.want)
		assert.ErrorContains(t, err, "measure --overlay")
	}
	_, err = LoadOverlay(filepath.Join(t.TempDir(), "none.jpg"))
	assert.True(t, errors.Is(err, os.ErrNotExist))
	huge := append([]byte{}, plain.Bytes()...)
	i := bytes.Index(huge, []byte{0xFF, 0xC0})
	copy(huge[i+5:], []byte{0x4E, 0x20, 0x4E, 0x20}) // 20,000 x 20,000
	require.NoError(t, os.WriteFile(path, huge, 0o644))
	_, err = LoadOverlay(path)
	assert.ErrorContains(t, err, "20000 x 20000 pixels, more than 60 million")
}

func TestSameRecordGivesSameFile(t *testing.T) {
	rec := advised(t, kept(t, "schema1-foam.json"), fit.Rider{MassKg: 78, Bikes: oneBike})
	var first, second bytes.Buffer
	require.NoError(t, WriteSheet(&first, rec, SheetOptions{}))
	require.NoError(t, WriteSheet(&second, rec, SheetOptions{}))
	assert.Equal(t, first.Bytes(), second.Bytes())
	assert.True(t, bytes.HasPrefix(first.Bytes(), []byte("%PDF-")))
	assert.Less(t, first.Len(), 200_000)
	assert.Contains(t, first.String(), "/FontFile2", "the fonts are in the file")
}

func TestPapers(t *testing.T) {
	for text, want := range map[string]Paper{"a4": A4, "A4": A4, " Letter ": Letter} {
		got, err := ParsePaper(text)
		require.NoError(t, err)
		assert.Equal(t, want, got)
	}
	_, err := ParsePaper("a3")
	assert.ErrorContains(t, err, "use a4 or letter")
	// ISO 216; 8.5 x 11 inches of 25.4 mm
	for paper, box := range map[Paper]string{A4: "/MediaBox [0 0 595.28 841.89]",
		Letter: "/MediaBox [0 0 612.00 792.00]"} {
		assert.Contains(t, string(rendered(t, kept(t, "schema1-foam.json"), SheetOptions{Paper: paper})), box)
	}
}
