package fit

import (
	"cmp"
	"fmt"
	"slices"
	"strings"
)

// Fault is one thing that is wrong with a stock's file.
type Fault struct {
	File     string
	Line     int    // from 1
	Column   int    // byte in the line, from 1; 0 for the line as a whole
	Field    string // header of the column, empty for the line as a whole
	Value    string // as it was written
	Expected string
	Code     FaultCode
}

// FaultCode is what kind of fault it is, for whoever says it in another language.
type FaultCode string

// The kinds.
const (
	BadText        FaultCode = "text"     // not UTF-8, or too long
	BadHeader      FaultCode = "header"   // the header as a whole, or one of its cells
	BadQuotes      FaultCode = "quotes"   // a quote within a cell
	NoRows         FaultCode = "rows"     // a header alone
	EmptyCell      FaultCode = "empty"    // of a column that is needed
	TooManyCell    FaultCode = "surplus"  // more cells than the header has
	SupportTooWide FaultCode = "support"  // the support beyond the width
	BadNumber      FaultCode = "number"   // no length or mass, or out of its range
	BadWord        FaultCode = "word"     // none of the words that the column takes
	BadPrice       FaultCode = "price"    // no price, or one whose decimals are not clear
	BadQuantity    FaultCode = "quantity" // no whole number
)

// Error is the fault in one line: place, column, value, what was expected.
func (f Fault) Error() string {
	var b strings.Builder
	fmt.Fprintf(&b, "%s:%d", f.File, f.Line)
	if f.Column > 0 {
		fmt.Fprintf(&b, ":%d", f.Column)
	}
	b.WriteString(": ")
	if f.Field != "" {
		fmt.Fprintf(&b, "%s: ", f.Field)
	}
	if f.Value != "" {
		fmt.Fprintf(&b, "%q: ", clip(f.Value))
	}
	return b.String() + "expected " + f.Expected
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

// faultLog gathers faults while a file is read.
type faultLog struct {
	file   string
	faults []Fault
}

func (l *faultLog) add(code FaultCode, line, column int, field, value, expected string) {
	l.faults = append(l.faults, Fault{l.file, line, column, field, value, expected, code})
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
