package statistics

import (
	"bytes"
	"strings"
	"time"

	"golang.org/x/text/unicode/norm"
)

// Spreadsheets write CSV in their country's way. What follows takes it as it
// comes, where it can be taken in one way only.

// asLines takes off what some programs put before the header: a byte order mark,
// and a line "sep=;" that names the separator. Lines that end in a carriage return
// alone get a line feed. before counts the lines taken off.
func asLines(data []byte) (rest []byte, before int, comma rune) {
	rest = bytes.TrimPrefix(data, []byte("\ufeff"))
	if bytes.IndexByte(rest, '\n') < 0 {
		rest = bytes.ReplaceAll(rest, []byte("\r"), []byte("\n"))
	}
	line, after, _ := bytes.Cut(rest, []byte("\n"))
	named, found := strings.CutPrefix(strings.ToLower(strings.Trim(string(line), "\" \r")), "sep=")
	if found && len(named) == 1 && strings.Contains(",;\t", named) {
		return after, 1, rune(named[0])
	}
	return rest, 0, separator(line)
}

// separator is the sign that the header uses most.
func separator(header []byte) rune {
	best := byte(',')
	for _, c := range []byte{';', '\t'} {
		if bytes.Count(header, []byte{c}) > bytes.Count(header, []byte{best}) {
			best = c
		}
	}
	return rune(best)
}

// Composed is a file's name by which readings find it: one system keeps an umlaut
// as one sign, another as a letter and its dots.
func Composed(name string) string { return norm.NFC.String(name) }

// dateForms are how a day, a month or a year may be written, and how it is kept.
// With points the day comes first wherever they are used; with slashes it may be
// the month, so those are not read.
var dateForms = []struct {
	layout, kept        string
	years, months, days int
}{
	{"2006-01-02", "2006-01-02", 0, 0, 1}, {"2.1.2006", "2006-01-02", 0, 0, 1},
	{"2006-01", "2006-01", 0, 1, 0}, {"1.2006", "2006-01", 0, 1, 0}, {"2006", "2006", 1, 0, 0},
}

// parseDate reads a day, a month or a year since 1900.
func parseDate(s string) (Date, bool) {
	for _, f := range dateForms {
		if from, err := time.Parse(f.layout, s); err == nil && from.Year() >= 1900 {
			to := from.AddDate(f.years, f.months, f.days)
			return Date{Text: from.Format(f.kept), Middle: from.Add(to.Sub(from) / 2)}, true
		}
	}
	return Date{}, false
}

// date is the row's, nothing where its cell is empty.
func (t *sheet) date() Date {
	s := t.cell("date")
	d, ok := parseDate(s)
	if s != "" && !ok {
		t.fault("date", wantDate.With())
	}
	return d
}
