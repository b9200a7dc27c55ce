package report

import (
	"encoding/json"
	"strings"
	"testing"
	"unicode/utf8"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"sitspan/cmd/sitspan/internal/record"
	"sitspan/cmd/sitspan/internal/words"
	"sitspan/fit"
	"sitspan/imprint/codes"
)

func loaded(t *testing.T, name string) record.Measurement {
	t.Helper()
	rec, err := record.Load("../record/testdata/" + name)
	require.NoError(t, err)
	return rec.Measurement
}

// widthOf is the object that `size --json` prints.
func widthOf(t *testing.T, spacing, u, allowance float64) json.RawMessage {
	t.Helper()
	_, c, err := fit.DefaultAdvisor().Width(fit.StatedSpacing(spacing, u), fit.AllowanceByHand(allowance, 0))
	require.NoError(t, err)
	raw, err := json.Marshal(c)
	require.NoError(t, err)
	return raw
}

// widthAt is such an object for a trunk's angle, known to 5 degrees.
func widthAt(t *testing.T, spacing, angle float64) json.RawMessage {
	t.Helper()
	_, c, err := fit.DefaultAdvisor().Width(fit.StatedSpacing(spacing, 1.1), fit.TrunkAngle(angle, 5))
	require.NoError(t, err)
	raw, err := json.Marshal(c)
	require.NoError(t, err)
	return raw
}

func TestTextOfAMeasurement(t *testing.T) {
	m := loaded(t, "schema1-foam.json")
	m.Advice = ""
	m.Width = widthOf(t, 121.5, 2, 20)
	notes := &Footnotes{}
	assert.Equal(t, `foam-window.jpg (foam): measured
  width      150 mm [1]
             150 mm is wide enough with 99.9 % probability (141.5 mm needed).
             Allowance 20 mm, stated by the fitter.
  distance   121.5 mm ± 2.3 mm (95 %) [2]
  better     Where the centres lie is what leaves the distance most open: two more photos from
             either side, the lamp moved, help most (--together)
  mostly     u = 0.78 mm  left centre
             u = 0.72 mm  right centre
             u = 0.18 mm  depth, common to both sides
  also       line of centres against the frame's front: +2.3° (u = 0.6°)
             depth of the dents, right minus left: +2.2 mm (u = 1.5 mm)
`, Text(m, words.English, notes))
	fresh := notes.Take()
	require.Len(t, fresh, 2)
	assert.Contains(t, fresh[0], "[1] warning: The widths are the built-in example")
	assert.Equal(t, "[2] warning: a ridge runs across the window; lay the frame so that the seam lies outside "+
		"its window", fresh[1])
}

func TestFootnotesAreNumberedOnceAndToldOnce(t *testing.T) {
	notes := &Footnotes{}
	assert.Equal(t, " [1]", notes.mark("a"))
	assert.Equal(t, " [2]", notes.mark("b"))
	assert.Equal(t, " [1]", notes.mark("a"))
	assert.Equal(t, []string{"[1] a", "[2] b"}, notes.Take())
	assert.Empty(t, notes.Take())
	assert.Equal(t, " [2]", notes.mark("b"))
	assert.Equal(t, " [3]", notes.mark("c"))
	assert.Equal(t, []string{"[3] c"}, notes.Take())
}

// Every reason and warning of a measurement reaches the reader: as a footnote
// where there is a number, as trouble where there is none.
func TestNothingIsLeftUnsaid(t *testing.T) {
	for _, name := range []string{"schema1-foam.json", "schema1-paper-review.json", "schema1-scan.json",
		"schema1-refused.json"} {
		m := loaded(t, name)
		notes := &Footnotes{}
		text := Text(m, words.English, notes) + strings.Join(notes.Take(), "\n")
		if m.Spacing == nil {
			text += strings.Join(Trouble(m, words.English), "\n")
			require.NotEmpty(t, m.Reasons, name)
		}
		for _, r := range m.Reasons {
			assert.Contains(t, text, r.Message, name)
			assert.Contains(t, text, r.Hint, name)
		}
		for _, w := range m.Warnings {
			assert.Contains(t, text, w.Message, name)
			assert.Contains(t, text, w.Remedy, name)
		}
		assert.Contains(t, strings.Join(strings.Fields(text), " "), m.Advice, name)
		for line := range strings.Lines(text) {
			assert.NotContains(t, line, "%!", name)
		}
	}
}

func TestTroubleSaysWhatToDo(t *testing.T) {
	assert.Equal(t, []string{
		"kitchen.jpg: refused: 4 of the frame's 12 marks were found, 6 are needed; photograph the whole frame, " +
			"from straight above, without shadow on its rim",
	}, Trouble(loaded(t, "schema1-refused.json"), words.English))
}

// A refused page says that there are others.
func TestTroubleTellsOfFurtherPages(t *testing.T) {
	m := loaded(t, "schema1-refused.json")
	m.Warnings = []record.Warning{{Code: "pages", Form: "first", Params: codes.Params{"pages": 3.0}}}
	lines := Trouble(m, words.English)
	require.Len(t, lines, 2)
	assert.Contains(t, lines[1], "kitchen.jpg: warning: the file has 3 pages, and only the first was measured")
}

// The same digits stand wherever an expanded uncertainty is told.
func TestUncertaintyIsToldInTwoDigits(t *testing.T) {
	for u, want := range map[float64]string{4.93: "± 5.0 mm", 2.232: "± 2.3 mm", 0.04: "± 0.1 mm",
		12.3: "± 13 mm"} {
		assert.Equal(t, want, plusMinus(words.English, u))
	}
	assert.Equal(t, "± 5,0 mm", plusMinus(words.German, 4.93))
}

func TestBudgetShowsTheLargestLinesFirst(t *testing.T) {
	b := block{lang: words.English}
	b.budget([]record.BudgetLine{{Source: "d", U: 0.1}, {Source: "b", U: 0.4},
		{Source: "c", U: 0.3, Basis: "why"}, {Source: "a", U: 0.5}})
	assert.Equal(t, "  mostly     u = 0.50 mm  a\n             u = 0.40 mm  b\n             u = 0.30 mm  c\n",
		b.String())
}

func TestPartsOfOneNameAreToldApart(t *testing.T) {
	parts := []record.Part{{Photo: "image.jpg"}, {Photo: "side.jpg"}, {Photo: "image.jpg"}}
	var names []string
	for i := range parts {
		names = append(names, PartName(parts, i))
	}
	assert.Equal(t, []string{"image.jpg (1)", "side.jpg", "image.jpg (3)"}, names)
}

func TestPartsSayWhatWasUsed(t *testing.T) {
	mm, u, d, joint := 121.24, 1.72, -0.31, 121.55
	b := block{lang: words.English}
	b.parts("", []record.Part{
		{Photo: "a.jpg", Status: record.Measured, Used: true, Spacing: &mm, U: &u, Difference: &d},
		{Photo: "b.jpg", Status: record.Refused, Why: "it shows another imprint"},
	}, &joint)
	assert.Equal(t, "             a.jpg: 121.2 mm ± 1.8 mm, −0.4 mm from the joint result\n             "+
		"b.jpg: refused, not used: it shows another imprint\n", b.String())
}

// The difference is that of the numbers as they are printed: 127.5 beside 128.6 is 1.1 apart, though 127.54
// and 128.56 are 1.0. A record that compared another quantity keeps its own difference.
func TestDifferencesAreThoseOfThePrintedNumbers(t *testing.T) {
	mm, joint, d := 127.54, 128.56, 127.54-128.56
	p := record.Part{Spacing: &mm, Difference: &d}
	assert.InDelta(t, -1.1, printedDifference(p, &joint, 1), 1e-9)
	assert.InDelta(t, -1.02, printedDifference(p, &joint, 2), 1e-9)
	other := -0.1
	assert.Equal(t, other, printedDifference(record.Part{Spacing: &mm, Difference: &other}, &joint, 1))
	assert.Equal(t, d, printedDifference(p, nil, 1))
}

// What a terminal shows is read in one window: width, distance, what to do, and no line over a hundred
// letters in any language; a number stays with its unit.
func TestLinesAreShortAndInOrder(t *testing.T) {
	for _, lang := range words.Langs() {
		m := loaded(t, "schema1-foam.json")
		m.Width = widthAt(t, 119.5, 45)
		text := Text(m, lang, &Footnotes{})
		at := -1
		for _, key := range []string{"width", "spacing", "better", "mostly", "also"} {
			next := strings.Index(text, "\n  "+lang.Text("terminal."+key)+" ")
			assert.Greater(t, next, at, "%s: %s\n%s", lang, key, text)
			at = next
		}
		for line := range strings.Lines(text) {
			assert.Less(t, utf8.RuneCountInString(strings.TrimSpace(line)), 100, line)
			assert.NotRegexp(t, `^ +(mm|%)\b`, line)
		}
	}
	assert.Equal(t, []string{"aa 12 mm", "bb"}, folded("aa 12 mm bb", 9))
	assert.Equal(t, []string{"aa", "12 mm", "bb"}, folded("aa 12 mm bb", 7))
	assert.Equal(t, []string{"/a/very/long/path", "b"}, folded("/a/very/long/path b", 6))
}

// The advice is about the largest line, be it the trunk's angle, which is no line of the distance.
func TestAdviceIsAboutTheLargestLine(t *testing.T) {
	m := record.Measurement{Medium: "foam", Budget: []record.BudgetLine{{Code: "dent_depth", U: 1},
		{Code: "left_centre", U: 0.9}}}
	spacing := 120.0
	m.Spacing = &spacing
	assert.Empty(t, betterKey(m, 0.9), "the depth's advice is a step back")
	assert.Equal(t, "posture", betterKey(m, 1.1))
	m.Budget[1].U = 1.2
	assert.Equal(t, "photos", betterKey(m, 1.1))
	m.Photos = make([]record.Part, 2)
	assert.Equal(t, "sittings", betterKey(m, 1.1))
	m.Relief = &record.Relief{}
	assert.Equal(t, "dots", betterKey(m, 1.1))
	m.Medium = "paper"
	assert.Equal(t, "ink", betterKey(m, 0))
	m.Budget = append(m.Budget, record.BudgetLine{Code: "print_scale", U: 2})
	assert.Equal(t, "print", betterKey(m, 0))
	for _, key := range []string{"posture", "photos", "sittings", "dots", "ink", "print"} {
		assert.NotEmpty(t, words.English.Say("terminal.better."+key, words.Values{"u": 1.0}))
	}
}

// Each verdict has its own headline.
func TestWidthHeadlines(t *testing.T) {
	for _, c := range []struct {
		spacing, u, allowance float64
		want                  string
	}{
		{125, 0.8, 20, "  width      150 mm"},
		{119.5, 0.8, 20, "  width      150 mm, between two sizes: 140 mm is the other"},
		{119.5, 9, 20, "  width      measure again before choosing"},
		{150, 0.5, 40, "  width      none in stock, to order: 200 mm"},
	} {
		_, choice, err := fit.DefaultAdvisor().Width(fit.StatedSpacing(c.spacing, c.u),
			fit.AllowanceByHand(c.allowance, 0))
		require.NoError(t, err)
		text := Width(choice, words.English, &Footnotes{})
		first, _, _ := strings.Cut(text, "\n")
		assert.Equal(t, c.want, strings.TrimRight(strings.Split(first, " [")[0], " "), choice.Verdict)
	}
}

// The verdict's sentence is why, not a warning: it is never a footnote.
func TestWhyAndWarningsAreKeptApart(t *testing.T) {
	for code, want := range map[string]bool{
		"verdict.clear": false, "decide.photo": false, "allowance.by_hand": false, "support.short": false,
		"warn.too_wide_chafes": true, "u.zero": true, "stock.example": true, "spacing.implausible": true,
		"allowance.clamped": true,
	} {
		assert.Equal(t, want, isWarning(fit.Note{Code: code}), code)
	}
}

func TestAWidthThatCannotBeReadIsSaid(t *testing.T) {
	m := loaded(t, "schema1-scan.json")
	m.Width = json.RawMessage(`{"width_mm":"wide"}`)
	assert.Contains(t, Text(m, words.English, &Footnotes{}), "  width      not readable in this record: ")
}
