package report

import (
	"math"
	"strings"
	"unicode"
	"unicode/utf8"

	"sitspan/cmd/sitspan/internal/words"
	"sitspan/fit"
)

// wordFor gives a code's word, or the code where a newer record brings one that
// has none.
func wordFor(lang words.Lang, family, code string) string {
	if !words.Has(words.English, family+code) {
		return code
	}
	return lang.Text(family + code)
}

// capital puts a text's first letter in upper case.
func capital(s string) string {
	r, n := utf8.DecodeRuneInString(s)
	if n == 0 {
		return s
	}
	return string(unicode.ToUpper(r)) + s[n:]
}

// oneLine collapses white space, line breaks among it.
func oneLine(s string) string { return strings.Join(strings.Fields(s), " ") }

// wholeInterval is the interval in whole mm, widened to them: what is read off
// it is never narrower than what was measured.
func wholeInterval(v, u float64) (low, high float64) {
	return math.Floor(v - u), math.Ceil(v + u)
}

// bikeName is a bike's own name, else its use, else its number.
func bikeName(b fit.Bike, i, of int, lang words.Lang) string {
	switch {
	case oneLine(b.Name) != "":
		return oneLine(b.Name)
	case b.Use != "":
		return capital(lang.Term(string(b.Use)))
	case of > 1:
		return lang.Say("sheet.bike", words.Values{"n": i + 1})
	}
	return lang.Text("sheet.your_bike")
}
