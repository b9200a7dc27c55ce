package words

import (
	"bytes"
	"encoding/json"
	"math"
	"os"
	"regexp"
	"slices"
	"strconv"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"
)

// place is a place in a text, with its name and its format.
var place = regexp.MustCompile(`\{([a-z_0-9]+)(?:\|([a-z0-9+]+))?\}`)

func placesIn(text string) []string {
	var names []string
	for _, m := range place.FindAllStringSubmatch(text, -1) {
		names = append(names, m[1])
	}
	slices.Sort(names)
	return slices.Compact(names)
}

// read gives a language's keys in the file's order, a key twice if it is there
// twice.
func read(t *testing.T, l Lang) (keys []string, texts map[string]string) {
	t.Helper()
	data, err := os.ReadFile(folder + "/" + string(l) + ending)
	require.NoError(t, err)
	d := json.NewDecoder(bytes.NewReader(data))
	_, err = d.Token()
	require.NoError(t, err)
	texts = map[string]string{}
	for d.More() {
		key, err := d.Token()
		require.NoError(t, err)
		var text string
		require.NoError(t, d.Decode(&text), key)
		keys = append(keys, key.(string))
		texts[key.(string)] = text
	}
	return keys, texts
}

// Every language has every key, once, in the order of the alphabet, so that
// two files can be read side by side.
func TestEveryLanguageHasEveryKey(t *testing.T) {
	want, _ := read(t, English)
	require.Greater(t, len(want), 25)
	require.True(t, slices.IsSorted(want), "en.json: sort it with `jq -S --indent 1`")
	for _, l := range Langs() {
		keys, _ := read(t, l)
		for _, key := range want {
			assert.True(t, Has(l, key), "%s lacks %s", l, key)
		}
		assert.True(t, slices.IsSorted(keys), "%s: sort it with `jq -S --indent 1`", l)
		keys = slices.DeleteFunc(keys, ownForm)
		assert.Equal(t, want, keys, "%s: the same keys, each once", l)
	}
}

// ownForm says whether a key is a form for numbers that English does not have.
func ownForm(key string) bool {
	for _, form := range []string{".few", ".many", ".two", ".zero"} {
		if stem, is := strings.CutSuffix(key, form); is && Has(English, stem+".other") {
			return true
		}
	}
	return false
}

// A number picks its form, in the language's own way: nothing is one in French,
// and many in English.
func TestCountPicksTheForm(t *testing.T) {
	assert.Equal(t, "1 file", English.Count("audit.files", 1, nil))
	assert.Equal(t, "0 files", English.Count("audit.files", 0, nil))
	assert.Equal(t, "0 fichier", French.Count("audit.files", 0, nil))
	assert.Equal(t, "2 fichiers", French.Count("audit.files", 2, nil))
	assert.Equal(t, "1 file", Lang("").Count("audit.files", 1, nil), "no language speaks English")
	assert.True(t, ownForm("audit.files.few"))
	assert.False(t, ownForm("audit.files.fewer"))
	assert.False(t, ownForm("audit.files.one"))
}

// mayLack are a text's places for what a file or a library says, in English or
// in no language: another language may leave them out.
func mayLack(key, english string) []string {
	switch {
	case !strings.HasPrefix(key, "reason.") && !strings.HasPrefix(key, "warning."):
		return nil
	case strings.Contains(english, "{seen}"):
		return []string{"seen", "needed"}
	}
	return []string{"basis", "cause", "remedy"}
}

// Each text has the places that the English one has, each with a format that
// there is, and nothing that only looks like a place.
func TestTextsHaveTheSamePlaces(t *testing.T) {
	formats := []string{
		"",
		"0",
		"1",
		"2",
		"3",
		"+0",
		"+1",
		"+2",
		"count",
		"mm",
		"kg",
		"deg",
		"pct",
		"date",
		"term",
		"terms",
		"full",
		"line",
	}
	_, english := read(t, English)
	for _, l := range Langs() {
		_, texts := read(t, l)
		for key, text := range texts {
			found, _ := l.find(key)
			assert.Equal(t, text, found, "%s: %s is read as JSON is", l, key)
			assert.NotEmpty(t, text, "%s: %s", l, key)
			assert.Equal(t, strings.TrimSpace(text), text, "%s: %s", l, key)
			if !strings.HasPrefix(key, "date.") { // a language chooses how it writes a day
				got := placesIn(text)
				want := slices.DeleteFunc(placesIn(english[key]), func(name string) bool {
					return !slices.Contains(got, name) && slices.Contains(mayLack(key, english[key]), name)
				})
				assert.True(t, slices.Equal(want, got), "%s: %s: %v and %v", l, key, want, got)
			}
			for _, m := range place.FindAllStringSubmatch(text, -1) {
				assert.Contains(t, formats, m[2], "%s: %s", l, key)
			}
			assert.NotRegexp(t, `[{}]|%[sdv]\b|%\[`, place.ReplaceAllString(text, ""), "%s: %s", l, key)
		}
	}
}

// wordsMost is how many words a sentence may have.
const wordsMost = 25

var (
	endOfSentence = regexp.MustCompile(`[.!?…]["“”»)]*\s+|\n\n|\n +`) // a line set in is one of its own
	abbreviation  = regexp.MustCompile(`\b(z\. ?B|ca|Nr|bzw|p\. ex)\.\s`)
	isWord        = regexp.MustCompile(`[\p{L}\p{N}]`)
)

func longest(text string) (most int) {
	text = abbreviation.ReplaceAllString(place.ReplaceAllString(text, "N"), "N ")
	for _, sentence := range endOfSentence.Split(text, -1) {
		n := 0
		for _, w := range strings.Fields(sentence) {
			if isWord.MatchString(w) {
				n++
			}
		}
		most = max(most, n)
	}
	return most
}

func TestSentencesAreShort(t *testing.T) {
	require.Equal(t, 3, longest("One two. One {n|mm} three! Four."))
	for _, l := range Langs() {
		_, texts := read(t, l)
		for key, text := range texts {
			if strings.HasSuffix(key, ".example") {
				continue // commands, a line each
			}
			assert.LessOrEqual(t, longest(text), wordsMost, "%s: %s: %s", l, key, text)
		}
	}
}

// The code speaks of three languages by name; the files are the list.
func TestLanguages(t *testing.T) {
	assert.Equal(t, English, Langs()[0], "the default")
	assert.Subset(t, Langs(), []Lang{German, French})
	for s, want := range map[string]Lang{
		"en": English, "DE": German, "de_AT.UTF-8": German, "en-GB": English, "Deutsch": German, "german": German,
		"fr_CH@euro": French, "Français": French, " fr ": French, "fra": French,
	} {
		got, err := Parse(s)
		require.NoError(t, err, s)
		assert.Equal(t, want, got, s)
	}
	for _, s := range []string{"", "xx", "ja", "C", "POSIX", "."} {
		_, err := Parse(s)
		assert.ErrorContains(t, err, "use en, de", s)
	}
}

func TestFromEnvironment(t *testing.T) {
	for _, tt := range []struct {
		env  map[string]string
		want Lang
	}{
		{nil, English},
		{map[string]string{"LANG": "de_DE.UTF-8"}, German},
		{map[string]string{"LANG": "C.UTF-8"}, English},
		{map[string]string{"LANG": "de_DE.UTF-8", "LC_MESSAGES": "fr_FR"}, French},
		{map[string]string{"LANG": "de_DE.UTF-8", "LC_ALL": "C"}, English},
		{map[string]string{"LANG": "ja_JP"}, English},
	} {
		assert.Equal(t, tt.want, FromEnvironment(func(name string) string { return tt.env[name] }), tt.env)
	}
}

func TestFromAcceptLanguage(t *testing.T) {
	for header, want := range map[string]Lang{
		"": English, "de": German, "de-AT,de;q=0.9,en;q=0.8": German, "ja,fr;q=0.5": French,
		"en;q=0.3,fr;q=0.7": French,
		"zh":                English, ";;;": English, "fr-CA": French,
	} {
		assert.Equal(t, want, FromAcceptLanguage(header), header)
	}
}

func TestPlacesAreFilled(t *testing.T) {
	day := time.Date(2026, time.March, 1, 12, 0, 0, 0, time.UTC)
	for _, tt := range []struct {
		v      any
		format string
		lang   Lang
		want   string
	}{
		{145.0, "mm", English, "145 mm"},
		{145.26, "mm", German, "145,3 mm"},
		{-0.01, "", English, "0"},
		{-1.26, "1", French, "−1,3"},
		{1.26, "+1", French, "+1,3"},
		{12345.0, "0", English, "12345"},
		{1234567, "count", German, "1\u202f234\u202f567"},
		{0.95, "pct", English, "95 %"},
		{0.94999, "pct", English, "94.9 %"},
		{0.99999, "pct", German, "99,9 %"},
		{1.0, "pct", English, ">99.9 %"},
		{0.0, "pct", English, "<0.1 %"},
		{0.00099, "pct", German, "<0,1 %"},
		{0.001, "pct", English, "0.1 %"},
		{7.5, "deg", German, "7,5°"},
		{3, "", English, "3"},
		{json.Number("2.25"), "2", German, "2,25"},
		{math.NaN(), "1", German, "–"},
		{"as it is", "mm", German, "as it is"},
		{day, "date", French, "1er mars 2026"},
		{day, "date", German, "1. März 2026"},
		{day, "date", English, "1 March 2026"},
		{[]any{"no.such.term", "b"}, "terms", English, "no.such.term, b"},
	} {
		assert.Equal(t, "a "+tt.want+" b", tt.lang.fill("a {x|"+tt.format+"} b", Values{"x": tt.v}))
	}
	assert.Equal(t, "{y} {open", English.fill("{y} {open", nil))
	assert.Equal(t, "01.03.2026", German.ShortDate(day))
	assert.Equal(t, "1 Mar 2026", English.ShortDate(day))
	assert.Empty(t, French.ShortDate(time.Time{}))
}

func TestUnknownKeyLosesNothing(t *testing.T) {
	assert.Equal(
		t,
		`from.a.newer.version {"width":150}`,
		German.Say("from.a.newer.version", Values{"width": 150.0}),
	)
	assert.Equal(t, "bare", English.Say("bare", nil))
	assert.Equal(
		t,
		"English",
		Lang("xx").Say("language.name", nil),
		"a language without a file speaks English",
	)
}

// A number has the digits that strconv gives, whatever the language.
func TestNumberRoundsAsStrconv(t *testing.T) {
	rapid.Check(t, func(r *rapid.T) {
		v := rapid.Float64Range(-1e6, 1e6).Draw(r, "v")
		if rapid.Bool().Draw(r, "tie") {
			v = math.Round(v*20) / 20
		}
		n := rapid.IntRange(0, 4).Draw(r, "decimals")
		want := strconv.FormatFloat(v, 'f', n, 64)
		if f, _ := strconv.ParseFloat(want, 64); f == 0 {
			want = strings.TrimPrefix(want, "-")
		}
		want = strings.Replace(want, "-", "−", 1)
		assert.Equal(r, want, English.Number(v, n))
		assert.Equal(r, strings.Replace(want, ".", ",", 1), German.Number(v, n))
		assert.Equal(r, strings.Replace(want, ".", ",", 1), French.Number(v, n))
	})
}

// A command waits for its language's file, so that is read in no longer than four
// million steps of a sum take, some 5 ms at 3 GHz: the best of ten tries each, taken
// in turns, since a busy machine is no fault of the file.
func TestLoadsAtOnce(t *testing.T) {
	for _, l := range Langs() {
		best, sums, sum := time.Hour, time.Hour, uint64(1)
		for range 10 {
			catalogues.Delete(l)
			start := time.Now()
			l.catalogue()
			best = min(best, time.Since(start))
			start = time.Now()
			for range 4_000_000 {
				sum = sum*6364136223846793005 + 1442695040888963407
			}
			sums = min(sums, time.Since(start))
		}
		assert.NotZero(t, sum)
		assert.Less(t, best, sums, l)
	}
}

func BenchmarkLoad(b *testing.B) {
	for b.Loop() {
		catalogues.Delete(German)
		German.catalogue()
	}
}

// What counts readings in the report reads rightly for one, too: the number ends a phrase, and no verb or
// noun has to agree with it.
func TestCountsOfReadingsHoldForOne(t *testing.T) {
	begins := regexp.MustCompile(`^\{n\}`)
	for _, l := range Langs() {
		seen := 0
		for _, key := range Keys(l) {
			text := l.Text(key)
			if !strings.HasPrefix(key, "audit.old.") || !strings.Contains(text, "{n}") {
				continue
			}
			seen++
			assert.NotRegexp(t, begins, text, "%s: %s", l, key)
			assert.Regexp(t, `: \{n\}[,;. \x{a0}]`, text, "%s: %s", l, key)
		}
		assert.GreaterOrEqual(t, seen, 6, l)
	}
}

// French puts a space before these signs, and the line must not break there.
func TestFrenchSignsStayOnTheirLine(t *testing.T) {
	loose := regexp.MustCompile(`\S [;:?!»]([\s.,)]|$)|« \S`)
	for _, key := range Keys(French) {
		assert.NotRegexp(t, loose, French.Text(key), key)
	}
}
