package report

import (
	"fmt"
	"math"
	"strconv"
	"strings"
	"time"
	"unicode"
	"unicode/utf8"

	"sitspan/fit"
)

// decimals writes a number with n decimals in the language's way, with a true
// minus sign.
func decimals(v float64, n int, lang fit.Lang) string {
	s := strconv.FormatFloat(v, 'f', n, 64)
	if strings.Trim(s, "-0.") == "" {
		s = strings.TrimPrefix(s, "-")
	}
	s = strings.Replace(s, "-", "−", 1)
	if lang == fit.German {
		s = strings.Replace(s, ".", ",", 1)
	}
	return s
}

// plain writes a number with at most one decimal: 150, not 150.0.
func plain(v float64, lang fit.Lang) string {
	if math.Abs(v-math.Round(v)) < 0.05 {
		return decimals(math.Round(v), 0, lang)
	}
	return decimals(v, 1, lang)
}

// signed writes a number with its sign.
func signed(v float64, n int, lang fit.Lang) string {
	s := decimals(v, n, lang)
	if !strings.HasPrefix(s, "−") {
		s = "+" + s
	}
	return s
}

// percent writes a probability in per cent with one decimal, cut and not
// rounded: 0.94999 must not read as 95 % beside a level of 95 %.
func percent(p float64, lang fit.Lang) string {
	const slack = 1e-9 // 0.95 x 1000 is 949.99... in binary
	return plain(math.Floor(p*1000+slack)/10, lang) + " %"
}

// degrees writes an angle.
func degrees(v float64, lang fit.Lang) string { return plain(v, lang) + "°" }

// longDate writes a day with its month's name.
func longDate(t time.Time, lang fit.Lang) string {
	l := labelsIn(lang)
	return fmt.Sprintf(l.date, t.Day(), l.months[t.Month()-1], t.Year())
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
func bikeName(b fit.Bike, i, of int, lang fit.Lang) string {
	l := labelsIn(lang).sheet
	switch {
	case oneLine(b.Name) != "":
		return oneLine(b.Name)
	case b.Use != "":
		return capital(fit.Term(string(b.Use), lang))
	case of > 1:
		return fmt.Sprintf(l.Bike, strconv.Itoa(i+1))
	}
	return l.YourBike
}
