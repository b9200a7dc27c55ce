package fit

import (
	"os"
	"regexp"
	"slices"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

var place = regexp.MustCompile(`\{([a-z_]+)(?::([a-z]+))?\}`)

func placesIn(s string) []string {
	found := place.FindAllString(s, -1)
	slices.Sort(found)
	return slices.Compact(found)
}

func TestCatalogueIsCompleteInBothLanguages(t *testing.T) {
	formats := []string{"", "mm", "kg", "deg", "pct", "term", "terms"}
	for code, p := range catalogue {
		assert.NotEmpty(t, p.en, code)
		assert.NotEmpty(t, p.de, code)
		assert.Equal(t, placesIn(p.en), placesIn(p.de), "%s: both languages name the same values", code)
		for _, m := range place.FindAllStringSubmatch(p.en, -1) {
			assert.Contains(t, formats, m[2], code)
		}
		for _, s := range []string{p.en, p.de} {
			assert.NotRegexp(t, `[{}]`, place.ReplaceAllString(s, ""), code)
			assert.Equal(t, strings.TrimSpace(s), s, code)
		}
		if !strings.HasPrefix(code, "term.") {
			assert.NotEqual(t, p.en, p.de, "%s is not translated", code)
		}
	}
}

// Every code that the package's source names is in the catalogue, and every
// entry is named or put together by the source.
func TestEveryCodeInTheSourceHasText(t *testing.T) {
	named := regexp.MustCompile(`note\("([a-z_.]+)"`)
	files, err := os.ReadDir(".")
	require.NoError(t, err)
	seen := 0
	for _, f := range files {
		if !strings.HasSuffix(f.Name(), ".go") || strings.HasSuffix(f.Name(), "_test.go") {
			continue
		}
		src, err := os.ReadFile(f.Name())
		require.NoError(t, err)
		for _, m := range named.FindAllStringSubmatch(string(src), -1) {
			if strings.HasSuffix(m[1], ".") {
				continue // completed at run time, tested below and in the complaints
			}
			seen++
			assert.Contains(t, catalogue, m[1], f.Name())
		}
	}
	assert.Greater(t, seen, 40, "the pattern still finds the notes")
	for _, v := range []Verdict{Clear, BetweenSizes, MeasureAgain} {
		assert.Contains(t, catalogue, "verdict."+string(v))
	}
	for _, o := range []Outside{TooWide, TooNarrow} {
		assert.Contains(t, catalogue, "verdict."+string(o))
	}
}

func TestEveryTermHasAWord(t *testing.T) {
	terms := slices.Concat(asWords(Uses()), asWords(Dampers()), asWords(Complaints()),
		asWords([]Relief{NoRelief, ChannelRelief, CutoutRelief, SomeRelief}),
		asWords([]SetUp{Tilt, Height, ForeAft, Cleats}),
		asWords([]Verdict{Clear, BetweenSizes, MeasureAgain, OutsideStock}))
	for _, term := range terms {
		assert.Contains(t, catalogue, "term."+term)
	}
	assert.Equal(t, "Reiserad", Term("touring", German))
	assert.Equal(t, "something newer", Term("something newer", German))
}

func TestNumbersAreWrittenInTheLanguagesWay(t *testing.T) {
	tests := []struct {
		v        any
		format   string
		lang     Lang
		want     string
		asBecame string
	}{
		{145.0, "mm", English, "145 mm", "no empty decimals"},
		{145.26, "mm", German, "145,3 mm", "one decimal, a comma"},
		{-0.01, "", English, "0", "no minus zero"},
		{0.95, "pct", English, "95 %", ""},
		{0.94999, "pct", English, "94.9 %", "cut, not rounded"},
		{0.99999, "pct", German, "99,9 %", "cut, not rounded"},
		{1.0, "pct", English, "100 %", ""},
		{7.5, "deg", German, "7,5°", ""},
		{3, "", English, "3", "whole number"},
		{[]string{"road", "city"}, "terms", German, "Rennrad, Stadtrad", ""},
		{[]any{"road", "city"}, "terms", English, "road, city", "as read back from JSON"},
	}
	for _, tt := range tests {
		assert.Equal(t, tt.want, formatParam(tt.v, tt.format, tt.lang), tt.asBecame)
	}
}

func TestUnknownCodeLosesNothing(t *testing.T) {
	n := note("from.a.newer.version", "width", 150.0)
	assert.Equal(t, `from.a.newer.version {"width":150}`, n.Text(German))
	assert.Equal(t, "bare", note("bare").Text(English))
}

func TestParseLang(t *testing.T) {
	for s, want := range map[string]Lang{"en": English, "DE": German, "de_AT.UTF-8": German, "en-GB": English, "Deutsch": German} {
		got, err := ParseLang(s)
		require.NoError(t, err, s)
		assert.Equal(t, want, got)
	}
	_, err := ParseLang("fr")
	assert.ErrorContains(t, err, "use en or de")
}
