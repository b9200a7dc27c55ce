package words

import (
	"fmt"
	"math"
	"strconv"
	"strings"
	"time"

	"golang.org/x/text/message"
	"golang.org/x/text/number"
)

// Number writes a number with so many decimals in the language's way, with a
// true minus sign, without a sign before zero and without a mark between the
// thousands. What is no number is a dash.
func (l Lang) Number(v float64, decimals int) string {
	if math.IsNaN(v) || math.IsInf(v, 0) {
		return "–"
	}
	// strconv rounds the value itself; x/text then finds nothing left to round.
	rounded, err := strconv.ParseFloat(strconv.FormatFloat(v, 'f', decimals, 64), 64)
	if err != nil {
		return "–"
	}
	s := message.NewPrinter(l.tag()).
		Sprint(number.Decimal(rounded, number.Scale(decimals), number.NoSeparator()))
	return strings.Replace(s, "-", "−", 1)
}

// Plain writes a number with at most one decimal: 150, not 150.0.
func (l Lang) Plain(v float64) string {
	if strings.HasSuffix(strconv.FormatFloat(v, 'f', 1, 64), ".0") {
		return l.Number(v, 0)
	}
	return l.Number(v, 1)
}

// Signed writes a number with its sign; zero has a plus.
func (l Lang) Signed(v float64, decimals int) string {
	s := l.Number(v, decimals)
	if !strings.HasPrefix(s, "−") {
		s = "+" + s
	}
	return s
}

// Percent writes a probability in per cent with at most one decimal, cut and
// not rounded: 0.94999 must not read as 95 % beside a level of 95 %. Where a
// whole 100 % would stand it says ">99.9 %", and where 0 % would "<0.1 %", since no
// choice is that certain.
func (l Lang) Percent(p float64) string {
	const slack = 1e-9 // 0.95 x 1000 is 949.99... in binary
	cut := math.Floor(p*1000+slack) / 10
	if cut >= 100 {
		return ">" + l.Plain(99.9) + " %"
	}
	if cut < 0.1 {
		return "<" + l.Plain(0.1) + " %"
	}
	return l.Plain(cut) + " %"
}

// Degrees writes an angle.
func (l Lang) Degrees(v float64) string { return l.Plain(v) + "°" }

// Date writes a day with its month's name.
func (l Lang) Date(t time.Time) string { return l.date("date.long", t) }

// ShortDate writes a day as a list does; the zero time is empty.
func (l Lang) ShortDate(t time.Time) string {
	if t.IsZero() {
		return ""
	}
	return l.date("date.short", t)
}

func (l Lang) date(pattern string, t time.Time) string {
	day := strconv.Itoa(t.Day())
	if t.Day() == 1 {
		day = l.Text("date.first")
	}
	month := strconv.Itoa(int(t.Month()))
	return l.Say(pattern, Values{
		"day": day,
		"dd":  fmt.Sprintf("%02d", t.Day()),
		"month": l.Text(
			"month." + month,
		),
		"mon":  l.Text("month.short." + month),
		"mm":   fmt.Sprintf("%02d", int(t.Month())),
		"year": strconv.Itoa(t.Year()),
	})
}
