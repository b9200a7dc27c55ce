package fit

import (
	"cmp"
	"fmt"
	"slices"
	"strings"

	"sitspan/calibration/fault"
)

// Fault is one thing that is wrong with a stock's file.
type Fault struct {
	File     string
	Line     int    // from 1
	Column   int    // byte in the line, from 1; 0 for the line as a whole
	Field    string // header of the column, empty for the line as a whole
	Value    string // as it was written
	Expected *fault.Fault
}

// Error is the fault in one line: place, column, value, what was expected.
func (f Fault) Error() string { return f.said().Error() }

// Coded is what the line is made of where it is read.
func (f Fault) Coded() (code string, values map[string]any) { return f.said().Coded() }

func (f Fault) said() *fault.Fault {
	kind := row
	switch {
	case f.Field != "" && f.Value != "":
		kind = rowCell
	case f.Field != "":
		kind = rowField
	case f.Value != "":
		kind = rowText
	}
	place := fmt.Sprintf("%s:%d", f.File, f.Line)
	if f.Column > 0 {
		place += fmt.Sprintf(":%d", f.Column)
	}
	return kind.With("place", place, "field", f.Field, "value", clip(f.Value), "expected", f.Expected)
}

// clip keeps a message on one line where a cell holds a page.
func clip(s string) string {
	const longest = 60
	if r := []rune(s); len(r) > longest {
		return string(r[:longest]) + "…"
	}
	return s
}

// StockFaults is the error of a stock that has bad rows: all of them, in the
// order of the file.
type StockFaults struct{ Faults []Fault }

// Error lists every fault, one a line.
func (e *StockFaults) Error() string {
	lines := make([]string, 0, len(e.Faults))
	for _, f := range e.Faults {
		lines = append(lines, f.Error())
	}
	return strings.Join(lines, "\n")
}

// Unwrap gives the faults, each an error of its own.
func (e *StockFaults) Unwrap() []error {
	all := make([]error, len(e.Faults))
	for i, f := range e.Faults {
		all[i] = f
	}
	return all
}

// faultLog gathers faults while a file is read.
type faultLog struct {
	file   string
	faults []Fault
}

func (l *faultLog) add(line, column int, field, value string, expected *fault.Fault) {
	l.faults = append(l.faults, Fault{l.file, line, column, field, value, expected})
}

func (l *faultLog) err() error {
	if len(l.faults) == 0 {
		return nil
	}
	slices.SortStableFunc(l.faults, func(a, b Fault) int {
		return cmp.Or(cmp.Compare(a.Line, b.Line), cmp.Compare(a.Column, b.Column))
	})
	return &StockFaults{l.faults}
}
