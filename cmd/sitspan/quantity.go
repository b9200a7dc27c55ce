package main

import (
	"fmt"
	"math"
	"strconv"
	"strings"
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
		return fmt.Errorf("a number from %g to %g%s is needed", q.low, q.high, q.unitWord())
	}
	if v < q.low || v > q.high {
		return fmt.Errorf("%g to %g%s is needed", q.low, q.high, q.unitWord())
	}
	q.value, q.given = v, true
	return nil
}

// inUnit is a number times a unit's factor, without the last digits of binary arithmetic.
func inUnit(v, factor float64) float64 { return math.Round(v*factor*1e9) / 1e9 }

// pointer is nil where the flag was not given.
func (q *quantity) pointer() *float64 {
	if !q.given {
		return nil
	}
	return &q.value
}

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

func (q *quantity) unitWord() string {
	switch q.unit {
	case "MM":
		return " mm"
	case "DEG":
		return " degrees"
	case "KG":
		return " kg"
	case "DPI":
		return " dots per inch"
	}
	return ""
}

// number reads a finite decimal number.
func number(text string) (float64, error) {
	v, err := strconv.ParseFloat(strings.TrimSpace(text), 64)
	if err == nil && (math.IsNaN(v) || math.IsInf(v, 0)) {
		return 0, fmt.Errorf("%q is not finite", text)
	}
	return v, err
}
