package sentence

import (
	"encoding/json"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"sitspan/cmd/sitspan/internal/record"
	"sitspan/cmd/sitspan/internal/words"
	"sitspan/imprint/codes"
	"sitspan/imprint/spacing"
)

// example are values for an entry: numbers that every rounding changes, and sentences within it.
func example(e *codes.Entry) codes.Said {
	var values []any
	for _, p := range e.Params {
		switch p.Holds {
		case codes.Number:
			values = append(values, 12.3456)
		case codes.Text:
			values = append(values, "as the file says")
		case codes.Sentence:
			within := map[codes.Kind]*codes.Entry{
				codes.Reason: codes.Glare, codes.Basis: codes.Gauge, codes.Word: codes.FrontSide,
				codes.Advice: codes.StepBack,
			}[p.Of]
			values = append(values, example(within))
		}
	}
	return e.With(values...)
}

// Whatever a measurement can say, it can say in every language, with all its numbers.
func TestEveryCodeHasItsWordsInEveryLanguage(t *testing.T) {
	for _, l := range words.Langs() {
		for _, e := range codes.Table() {
			s := example(e)
			text, ok := say(l, s, seenOf(e.Kind))
			assert.True(t, ok, "%s: %s has no words", l, e.Key())
			assert.NotContains(t, text, "{", "%s: %s", l, e.Key())
			for _, p := range e.Params {
				if p.Holds == codes.Number {
					assert.Contains(t, text, "12", "%s: %s leaves %s out", l, e.Key(), p.Name)
				}
			}
			if e.Kind == codes.Reason || e.Kind == codes.Warning {
				do, ok := say(l, s, ".do")
				assert.True(t, ok, "%s: %s does not say what to do", l, e.Key())
				assert.NotEmpty(t, do)
			}
		}
	}
}

// No key of the measurement's that no code has: a sentence that nothing says.
func TestEveryWordHasItsCode(t *testing.T) {
	known := map[string]bool{}
	for _, e := range codes.Table() {
		for _, form := range []string{e.Form, ""} {
			for _, ending := range []string{"", ".seen", ".do"} {
				known[codes.Key(e.Kind, e.Code, form)+ending] = true
			}
		}
	}
	for _, key := range words.Keys(words.English) {
		kind, _, _ := strings.Cut(key, ".")
		switch codes.Kind(kind) {
		case codes.Reason, codes.Warning, codes.Influence, codes.Basis, codes.Rejected, codes.Why, codes.Advice,
			codes.Word:
			assert.True(t, known[key], "no code says %s", key)
		}
	}
}

func TestNumbersAreRoundedAsTheTableSays(t *testing.T) {
	s := codes.WideInterval.With(6.14, 6)
	assert.Equal(t, "the interval is ± 6.1 mm wide; ± 6 mm or less is needed", Of(words.English, s))
	assert.Equal(t, "das Intervall ist ± 6,1 mm breit; nötig sind ± 6 mm oder weniger", Of(words.German, s))
	assert.Contains(t, Of(words.English, codes.FaintRelief.With(4.0, 3.6)), "± 4.0 mm; ± 3.6 mm",
		"as many decimals as the limit has")
	assert.Contains(t, Of(words.English, codes.FaintRelief.With(4.0, 4.0)), "± 4.0 mm; ± 4 mm")
	assert.Equal(t, "fewer than two marks can be read on the left side of the frame: 5 of 12 were found, 7 on "+
		"all sides are needed",
		Of(words.English, codes.FewMarksSide.With(5, 7, codes.LeftSide.With())))
}

// A reason that somebody has looked at is said in its own words, and an unknown one as the record has it.
func TestWarningsOfReviewsAndOfTomorrow(t *testing.T) {
	reason := Reason(codes.Glare.With(5.0, 2.0))
	w := record.Warning{Code: reason.Code, Params: reason.Params, Message: "old words", Remedy: "old remedy"}
	assert.Equal(t, "5 % of the window is burnt out; below 2 % is needed", OfWarning(words.English, w).Seen)
	newer := record.Reason{Code: "of_tomorrow", Message: "of tomorrow", Hint: "wait"}
	assert.Equal(t, Spoken{"of tomorrow", "wait"}, OfReason(words.German, newer))
	bare := record.Reason{Code: "glare", Message: "5 % burnt out", Hint: "turn the lamp"}
	assert.Equal(t, "5 % burnt out", OfReason(words.German, bare).Seen,
		"without its numbers a sentence is not made up")
	assert.Contains(t, OfReason(words.German, bare).Do, "Lampe")
}

// What goes into a record is there after it comes back, in another language.
func TestALineComesBack(t *testing.T) {
	l := Line(spacing.Of(codes.LeftCentre, 0.5, 1, codes.ReadTogether.With(2, codes.ReadingsOwn.With(0.65))))
	assert.Equal(t, "left_centre", l.Code)
	assert.Equal(t, "left centre", l.Source)
	data, err := json.Marshal(l)
	require.NoError(t, err)
	var back record.BudgetLine
	require.NoError(t, json.Unmarshal(data, &back))
	assert.Equal(t, "linke Mitte", Source(words.German, back))
	assert.Equal(t, l.Basis, Basis(words.English, back))
	assert.Contains(t, Basis(words.German, back), "mal 0,65")
}

// An expanded uncertainty has two significant digits at the most (JCGM 100:2008, 7.2.6).
func TestAnExpandedUncertaintyHasTwoDigits(t *testing.T) {
	for u, want := range map[float64]string{29: "± 29 mm wide", 7: "± 7.0 mm wide", 9.9: "± 9.9 mm wide"} {
		assert.Contains(t, Of(words.English, codes.WideSittings.With(u, 6.0)), want)
	}
}
