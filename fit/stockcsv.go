package fit

import (
	"bytes"
	"encoding/csv"
	"errors"
	"fmt"
	"io"
	"os"
	"path/filepath"
	"strings"
	"unicode/utf8"

	"sitspan/calibration/fault"
)

// maxStockBytes bounds a stock's file: 10,000 rows are about 1 MB.
const maxStockBytes = 64 << 20

// LoadStock reads a stock's CSV file; see ReadStock.
func LoadStock(path string) (Stock, error) {
	f, err := os.Open(path)
	if err != nil {
		return Stock{}, BadStock.With("why", err)
	}
	defer f.Close()
	s, err := ReadStock(f, filepath.Base(path))
	if err != nil && !errors.As(err, new(*StockFaults)) {
		return s, BadStockFile.With("file", path, "why", err)
	}
	return s, err
}

// ReadStock reads a stock as CSV with a header:
//
//	model,use,width_mm,support_mm,length_mm,nose_mm,relief,dampers,max_rider_kg,price,qty
//
// Only the width is required. Lengths carry their unit in the header (_mm, _cm
// or _in), the rider's limit kg or lb, the price its currency where it likes
// (price_eur). Several uses or dampers in a cell are set apart by / | + or a
// space. Unknown columns are kept. The separator is the comma, the semicolon
// or the tab, whichever the header uses most; decimal commas are read; text is
// UTF-8, with or without its mark.
//
// Every bad row is reported in a *StockFaults, with file, line, column, value
// and what was expected; the stock that comes with it holds the good rows, and
// is not fit to choose from.
func ReadStock(r io.Reader, name string) (Stock, error) {
	data, err := io.ReadAll(io.LimitReader(r, maxStockBytes+1))
	if err != nil {
		return Stock{}, BadStock.With("why", err)
	}
	log := &faultLog{file: name}
	s := Stock{Name: name}
	text, firstLine, expected := plainText(data)
	if expected != nil {
		log.add(1, 0, "", "", expected)
		return s, log.err()
	}
	t := table{log: log, lineOffset: firstLine - 1, csv: csv.NewReader(bytes.NewReader(text))}
	t.csv.Comma = separator(text)
	t.rows = min(bytes.Count(text, []byte("\n")), 1<<16) // a hint for the memory, no limit
	t.csv.FieldsPerRecord = -1
	t.csv.ReuseRecord = true
	s.Models, s.Currency = t.read()
	s.Models = mergeDuplicates(s.Models)
	return s, log.err()
}

// plainText takes off what spreadsheets put before the header: the byte-order
// mark and a line "sep=;". It says what is wrong with text that is not UTF-8.
func plainText(data []byte) (text []byte, firstLine int, expected *fault.Fault) {
	if len(data) > maxStockBytes {
		return nil, 0, wantAtMostMB.With("most", maxStockBytes>>20)
	}
	data = bytes.TrimPrefix(data, []byte("\ufeff"))
	if !utf8.Valid(data) || bytes.IndexByte(data, 0) >= 0 {
		return nil, 0, wantUTF8.With()
	}
	line, rest, found := bytes.Cut(data, []byte("\n"))
	if found && bytes.HasPrefix(bytes.ToLower(bytes.TrimSpace(line)), []byte("sep=")) {
		return rest, 2, nil
	}
	return data, 1, nil
}

// Separator is the sign between the cells of a stock's text, as ReadStock takes it.
func Separator(text []byte) rune {
	plain, _, _ := plainText(text)
	return separator(plain)
}

// separator is the sign among comma, semicolon and tab that the header uses
// most, outside quotes; the comma where it uses none.
func separator(text []byte) rune {
	header, _, _ := bytes.Cut(text, []byte("\n"))
	count := map[byte]int{}
	quoted := false
	for _, c := range header {
		if c == '"' {
			quoted = !quoted
		}
		if !quoted {
			count[c]++
		}
	}
	best := byte(',')
	for _, c := range []byte{';', '\t'} {
		if count[c] > count[best] {
			best = c
		}
	}
	return rune(best)
}

// table is a CSV file while it is read.
type table struct {
	log        *faultLog
	csv        *csv.Reader
	lineOffset int // lines before what the csv reader sees
	rows       int // about how many are to come
	columns    []column
}

// read goes through the rows, reporting the bad ones and keeping the good.
func (t *table) read() (models []Model, currency string) {
	header, ok := t.next()
	if !ok {
		if len(t.log.faults) == 0 {
			t.log.add(1, 0, "", "", wantHeader.With())
		}
		return nil, ""
	}
	t.columns, currency = t.readHeader(header)
	if t.columns == nil {
		return nil, ""
	}
	rows := 0
	models = make([]Model, 0, t.rows)
	for {
		cells, ok := t.next()
		if !ok {
			break
		}
		rows++
		if m, good := t.readRow(cells); good {
			models = append(models, m)
		}
	}
	if rows == 0 && len(t.log.faults) == 0 {
		t.log.add(1+t.lineOffset, 0, "", "", wantRow.With())
	}
	return models, currency
}

// next gives the next row that is not blank. What the csv reader cannot read
// (a stray quote) is reported, and the reading goes on behind it.
func (t *table) next() ([]string, bool) {
	for {
		cells, err := t.csv.Read()
		if errors.Is(err, io.EOF) {
			return nil, false
		}
		var bad *csv.ParseError
		if errors.As(err, &bad) {
			t.log.add(bad.StartLine+t.lineOffset, 0, "", "",
				wantQuotes.With("line", bad.Line+t.lineOffset, "column", bad.Column))
			continue
		}
		if err != nil {
			t.log.add(1, 0, "", "", wantReadable.With("why", err))
			return nil, false
		}
		if strings.TrimSpace(strings.Join(cells, "")) != "" {
			return cells, true
		}
	}
}

// readRow reads one row's cells; false where any of them was bad.
func (t *table) readRow(cells []string) (Model, bool) {
	before := len(t.log.faults)
	m := Model{Qty: QtyNotStated}
	m.Line, _ = t.position(0)
	t.refuseSurplus(cells)
	for i, c := range t.columns {
		cell := ""
		if i < len(cells) {
			cell = strings.TrimSpace(cells[i])
		}
		t.readCell(&m, c, i, cell)
	}
	if m.SupportMM > m.WidthMM && m.WidthMM > 0 {
		t.log.add(m.Line, 0, "support", fmt.Sprintf("%g mm", m.SupportMM),
			wantSupport.With("width", m.WidthMM))
	}
	return m, len(t.log.faults) == before
}

// readCell reads one cell into the model, or reports it.
func (t *table) readCell(m *Model, c column, i int, cell string) {
	if cell == "" {
		if c.required {
			t.log.add(m.Line, 0, c.header, "", wantValue.With())
		}
		return
	}
	if c.read == nil {
		m.Extra = append(m.Extra, Column{c.header, strings.Clone(cell)})
		return
	}
	if expected := c.read(m, cell); expected != nil {
		line, col := t.position(i)
		t.log.add(line, col, c.header, cell, expected)
	}
}

// refuseSurplus reports cells beyond the header's: mostly a decimal comma in a
// file that is separated by commas.
func (t *table) refuseSurplus(cells []string) {
	for i := len(t.columns); i < len(cells); i++ {
		if cells[i] == "" {
			continue
		}
		line, col := t.position(i)
		t.log.add(line, col, "", cells[i], wantCells.With("n", len(t.columns), "found", len(cells)))
		return
	}
}

// position is the line and byte column of the row's i-th cell in the file.
func (t *table) position(i int) (line, column int) {
	line, column = t.csv.FieldPos(i)
	return line + t.lineOffset, column
}
