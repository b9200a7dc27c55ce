package report

import (
	"math"
	"regexp"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"pgregory.net/rapid"

	"sitspan/cmd/sitspan/internal/words"
	"sitspan/fit"
)

// rawKey is a key of words that was not said.
var rawKey = regexp.MustCompile(`\b(sheet|explain|relief|plot|terminal|` +
	`status|posture|width|side|note|term)\.[a-z]\w*`)

// What is asked of the sheet and of explain is said in each language: the
// assumptions are called so.
func TestAssumptionsAreCalledSo(t *testing.T) {
	for lang, says := range map[words.Lang][3]string{
		words.English: {"common practice", "our assumption", "common practice, no source"},
		words.German:  {"übliche Praxis", "unsere Annahme", "übliche Praxis ohne Quelle"},
		words.French:  {"usage courant", "notre hypothèse", "usage courant, sans source"},
	} {
		assert.Contains(t, lang.Text("sheet.allowance_basis"), says[0])
		assert.Contains(t, lang.Text("sheet.allowance_basis"), says[1])
		assert.Contains(t, lang.Text("sheet.set_up_basis"), says[2])
	}
}

// Everything that may be said on the sheet has letters in its font.
func TestWordsCanBePrinted(t *testing.T) {
	for _, lang := range words.Langs() {
		for _, key := range words.Keys(lang) {
			if strings.HasPrefix(key, "audit.") || strings.HasPrefix(key, "desk.") {
				continue // shown by a browser
			}
			assert.NoError(t, printable(key, lang.Text(key)), lang)
		}
	}
}

// The whole millimetres on the sheet hold all that the measurement's interval
// holds.
func TestWholeIntervalIsNeverNarrower(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		v, u := rapid.Float64Range(70, 190).Draw(t, "v"), rapid.Float64Range(0.01, 20).Draw(t, "u")
		low, high := wholeInterval(v, u)
		assert.LessOrEqual(t, low, v-u)
		assert.GreaterOrEqual(t, high, v+u)
		assert.Less(t, (v-u)-low+high-(v+u), 2.0, "and no more than is needed")
		assert.Equal(t, []float64{math.Trunc(low), math.Trunc(high)}, []float64{low, high})
	})
}

func TestBikeNames(t *testing.T) {
	assert.Equal(t, "Winter bike", bikeName(fit.Bike{Name: " Winter\n bike ", Use: fit.Road}, 0, 1,
		words.German))
	assert.Equal(t, "Rennrad", bikeName(fit.Bike{Use: fit.Road}, 0, 2, words.German))
	assert.Equal(t, "Bike 2", bikeName(fit.Bike{}, 1, 2, words.English))
	assert.Equal(t, "Ihr Rad", bikeName(fit.Bike{}, 0, 1, words.German))
}

// Lines are no longer than asked, and no word gets lost or out of order.
func TestLinesKeepWordsAndWidth(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		text := rapid.StringOfN(rapid.SampledFrom([]rune("aeWmi.ßŁЗ%19 ")), 0, 120, -1).Draw(t, "text")
		w := rapid.Float64Range(4, 120).Draw(t, "w")
		st := style{rapid.Float64Range(6, 40).Draw(t, "pt"), rapid.Bool().Draw(t, "bold"), black}
		var got strings.Builder
		for _, line := range st.lines(w, []run{{text, st.bold}}) {
			if joinedWidth := st.width(joined(line)); len(line) > 1 {
				assert.LessOrEqual(t, joinedWidth, w+1e-9)
			}
			for _, wd := range line {
				got.WriteString(wd.text)
			}
		}
		assert.Equal(t, strings.Join(strings.Fields(text), ""), strings.ReplaceAll(got.String(), " ", ""))
	})
}

func TestUnitsStayWithTheirNumbers(t *testing.T) {
	assert.Equal(t, []string{"hold", "with", "99.9 %,", "150 mm", "± 2 mm.", "a", "%"},
		unbroken(strings.Fields("hold with 99.9 %, 150 mm ± 2 mm. a %")))
	assert.Equal(t, []string{"Le", "« bec »,", "est-il", "haut ?", "Oui :"},
		unbroken(strings.Fields("Le « bec », est-il haut ? Oui :")))
}

// A text that has to fit into a line does, smaller first, then cut with a sign
// that it was.
func TestShrunkTextFits(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		text := rapid.StringOfN(rapid.SampledFrom([]rune("aeWmißŁЗ ")), 1, 90, -1).Draw(t, "text")
		st := style{rapid.Float64Range(8, 30).Draw(t, "pt"), false, black}
		w := rapid.Float64Range(20, 150).Draw(t, "w")
		small, cut := st.shrunk(text, w, 0.7)
		assert.LessOrEqual(t, small.width(cut), w*(1+1e-9))
		assert.GreaterOrEqual(t, small.pt, 0.7*st.pt-1e-9)
		if cut != oneLine(text) {
			assert.True(t, strings.HasSuffix(cut, "…"))
			assert.InDelta(t, 0.7*st.pt, small.pt, 1e-9, "cut only when it is as small as it may get")
		}
	})
}
