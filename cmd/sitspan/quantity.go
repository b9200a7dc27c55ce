package main

import (
	"math"
	"strconv"
	"strings"

	"sitspan/cmd/sitspan/internal/words"
)

// quantity is a flag's number with its unit and bounds. A decimal comma is
// read, too.
type quantity struct {
	value     float64
	given     bool
	unit      string // as the help shows it: MM, DEG
	low, high float64
}

// String is the value as the help shows a default; pflag asks for it.
func (q *quantity) String() string {
	if q == nil || (q.value == 0 && !q.given) {
		return ""
	}
	return strconv.FormatFloat(q.value, 'g', -1, 64)
}

// Type is the placeholder that the help shows; pflag asks for it.
func (q *quantity) Type() string { return q.unit }

// Set reads the flag's text; pflag calls it.
func (q *quantity) Set(text string) error {
	bare, factor := q.withoutUnit(strings.Replace(text, ",", ".", 1))
	v, err := number(bare)
	v = inUnit(v, factor)
	if err != nil {
		return q.fault("usage.number")
	}
	if v < q.low || v > q.high {
		return q.fault("usage.range")
	}
	q.value, q.given = v, true
	return nil
}

// inUnit is a number times a unit's factor, without the last digits of binary arithmetic.
func inUnit(v, factor float64) float64 { return math.Round(v*factor*1e9) / 1e9 }

// The inch and the pound are these by definition (the international yard and pound of 1959).
const (
	inchMM  = 25.4
	poundKg = 0.45359237
)

// unitFactors are the units that may stand behind a flag's number, and what one of each
// is in the flag's own unit. Longer endings come first.
var unitFactors = map[string][]struct {
	ending string
	factor float64
}{
	"MM":  {{"mm", 1}, {"cm", 10}, {"inches", inchMM}, {"inch", inchMM}, {"in", inchMM}, {"\"", inchMM}},
	"DEG": {{"degrees", 1}, {"deg", 1}, {"°", 1}},
	"KG":  {{"kg", 1}, {"lbs", poundKg}, {"lb", poundKg}},
	"DPI": {{"dpi", 1}},
}

// withoutUnit takes a known unit off a number's end: "12.5cm" is 12.5, times 10.
func (q *quantity) withoutUnit(text string) (bare string, factor float64) {
	return withoutUnit(text, q.unit)
}

func withoutUnit(text, unit string) (bare string, factor float64) {
	text = strings.TrimSpace(text)
	for _, u := range unitFactors[unit] {
		if n := len(text) - len(u.ending); n > 0 && strings.EqualFold(text[n:], u.ending) {
			return strings.TrimSpace(text[:n]), u.factor
		}
	}
	return text, 1
}

// fault says what is needed, in the flag's unit.
func (q *quantity) fault(key string) error {
	unit := words.Key("usage.unit." + strings.ToLower(q.unit))
	return words.Fault(key, words.Values{"low": q.low, "high": q.high, "unit": unit})
}

// number reads a finite decimal number.
func number(text string) (float64, error) {
	v, err := strconv.ParseFloat(strings.TrimSpace(text), 64)
	if err == nil && (math.IsNaN(v) || math.IsInf(v, 0)) {
		return 0, strconv.ErrRange
	}
	return v, err
}
