package statistics

import (
	"bytes"
	"encoding/csv"
	"errors"
	"io"
	"os"
	"path"
	"path/filepath"
	"strings"
	"time"
	"unicode/utf8"

	"sitspan/calibration/fault"
	"sitspan/cmd/sitspan/internal/words"
	"sitspan/fit"
)

// AssumedReadingU is the standard uncertainty in mm of an old reading whose row
// states none: an assumption, and the report says so.
const AssumedReadingU = 2.0

// Reading is an old reading of a card: a row of the readings' file.
type Reading struct {
	Line        int
	File        string // as Entry.Path
	SpacingMM   float64
	UMM         float64 // standard uncertainty
	UAssumed    bool    // the row states none
	Rider       string  // an alias
	TrunkDeg    *float64
	AllowanceMM *float64
	SoldMM      *float64 // width of the saddle that was sold
	Date        Date
	Fitter      string
}

// Date is a day, a month or a year.
type Date struct {
	Text string
	// Middle is the middle of the day, month or year.
	Middle time.Time
}

// Readings is a readings' file as it was read.
type Readings struct {
	Name string
	Rows []Reading
	// Faults are the rows, or the columns, that cannot be used.
	Faults []fit.Fault
	// OtherShards counts the rows whose file is in another shard.
	OtherShards int
	// Unread are the columns that the audit has no use for.
	Unread []string
}

// BadRows is the number of rows that cannot be used.
func (r Readings) BadRows() int {
	lines := make(map[int]bool)
	for _, f := range r.Faults {
		lines[f.Line] = true
	}
	return len(lines)
}

// Bounds of a readings' file. A row has some 80 bytes; kept and compared, it takes
// some 400 bytes of memory, and the audit's own process is to stay below 300 MB.
const (
	maxReadingsBytes = 64 << 20
	MostReadings     = 300_000
)

// LoadReadings reads a readings' file:
//
//	file,spacing_mm[,u_mm][,rider][,trunk_deg|allowance_mm][,width_sold_mm][,date][,fitter]
//
// The separator is the comma, the semicolon or the tab, decimal commas and days
// such as 4.5.2019 are read, as spreadsheets write them; text is UTF-8. A row that
// cannot be used is a fault in Readings; the error is of a file that cannot be
// read at all.
func LoadReadings(name string) (Readings, error) {
	f, err := os.Open(name)
	if err != nil {
		return Readings{}, words.Fault("error.readings", words.Values{"why": err})
	}
	defer f.Close()
	return ReadReadings(f, filepath.Base(name))
}

// ReadReadings is LoadReadings for an open file.
func ReadReadings(r io.Reader, name string) (Readings, error) {
	out := Readings{Name: name}
	data, err := io.ReadAll(io.LimitReader(r, maxReadingsBytes+1))
	if err != nil {
		return out, words.Fault("error.readings", words.Values{"why": err})
	}
	switch {
	case len(data) > maxReadingsBytes:
		return out, words.Fault("error.readings.large", words.Values{
			"name": name, "most": maxReadingsBytes >> 20,
		})
	case !utf8.Valid(data) || bytes.IndexByte(data, 0) >= 0:
		return out, words.Fault("error.readings.utf8", words.Values{"name": name})
	}
	data, line, comma := asLines(data)
	t := sheet{out: &out, csv: csv.NewReader(bytes.NewReader(data)), before: line, seen: make(map[string]int)}
	t.csv.Comma, t.csv.FieldsPerRecord, t.csv.ReuseRecord = comma, -1, true
	if err := t.header(); err != nil {
		return out, words.Fault("error.readings.file", words.Values{"name": name, "why": err})
	}
	for n := 0; t.next(); n++ {
		if n == MostReadings {
			return out, words.Fault("error.readings.rows", words.Values{"name": name, "most": MostReadings})
		}
		t.row()
	}
	return out, nil
}

// sheet is a readings' file while it is read.
type sheet struct {
	out     *Readings
	csv     *csv.Reader
	before  int            // lines before the header
	columns map[string]int // by name
	width   int            // columns of the header
	fields  []string
	bad     bool           // something is wrong with this row
	seen    map[string]int // line of each file's reading
}

var readingColumns = []string{
	"file",
	"spacing_mm",
	"u_mm",
	"rider",
	"trunk_deg",
	"allowance_mm",
	"width_sold_mm",
	"date",
	"fitter",
}

func (t *sheet) header() error {
	names, err := t.csv.Read()
	if err != nil {
		return words.Fault("error.readings.header", nil)
	}
	known := make(map[string]bool)
	for _, n := range readingColumns {
		known[n] = true
	}
	t.columns, t.width = make(map[string]int), len(names)
	for i, n := range names {
		n = strings.ToLower(strings.TrimSpace(n))
		if _, twice := t.columns[n]; twice && known[n] {
			return words.Fault("error.readings.twice", words.Values{"column": n})
		}
		if !known[n] {
			t.out.Unread = append(t.out.Unread, strings.Clone(n))
			continue
		}
		t.columns[strings.Clone(n)] = i
	}
	for _, n := range readingColumns[:2] {
		if _, there := t.columns[n]; !there {
			return words.Fault("error.readings.column", words.Values{
				"header": strings.Join(names, ","), "column": n,
			})
		}
	}
	return nil
}

// next reads the next row that holds anything; a broken one is a fault.
func (t *sheet) next() bool {
	for {
		fields, err := t.csv.Read()
		if err == io.EOF {
			return false
		}
		if e := (*csv.ParseError)(nil); errors.As(err, &e) {
			t.out.Faults = append(
				t.out.Faults,
				fit.Fault{
					File:     t.out.Name,
					Line:     t.before + e.StartLine,
					Column:   e.Column,
					Expected: wantQuotes.With(),
				},
			)
			continue
		}
		if err != nil {
			return false
		}
		if strings.TrimSpace(strings.Join(fields, "")) != "" {
			t.fields, t.bad = fields, false
			return true
		}
	}
}

// row reads a row, every fault of it.
func (t *sheet) row() {
	line, _ := t.csv.FieldPos(0)
	t.checkWidth()
	r := Reading{
		Line:   t.before + line,
		File:   t.file(),
		Rider:  t.text("rider"),
		Fitter: t.text("fitter"),
		Date:   t.date(),
	}
	if v := t.number("spacing_mm", 40, 300, wantSpacing.With()); v != nil {
		r.SpacingMM = *v
	} else if !t.bad {
		t.fault("spacing_mm", wantSpacing.With())
	}
	r.UMM, r.UAssumed = AssumedReadingU, true
	if v := t.number("u_mm", 0, 50, wantU.With()); v != nil {
		r.UMM, r.UAssumed = *v, false
	}
	r.TrunkDeg = t.number("trunk_deg", -20, 120, wantTrunk.With())
	r.AllowanceMM = t.number("allowance_mm", 0, 100, wantAllowance.With())
	r.SoldMM = t.number("width_sold_mm", 60, 400, wantSold.With())
	if r.TrunkDeg != nil && r.AllowanceMM != nil {
		t.fault("allowance_mm", wantOnePosture.With())
	}
	if first, twice := t.seen[r.File]; twice && r.File != "" {
		t.fault("file", wantOneRow.With("line", first))
	}
	if !t.bad {
		t.seen[r.File] = r.Line
		t.out.Rows = append(t.out.Rows, r)
	}
}

// cell is a column's text in this row, empty where there is none.
func (t *sheet) cell(name string) string {
	i, there := t.columns[name]
	if !there || i >= len(t.fields) {
		return ""
	}
	return plain(strings.Clone(strings.TrimSpace(t.fields[i])))
}

// plain takes off the apostrophe that rows.csv sets before text that a spreadsheet
// would take for a formula.
func plain(cell string) string {
	if len(cell) > 1 && cell[0] == '\'' && strings.IndexByte("=+-@", cell[1]) >= 0 {
		return cell[1:]
	}
	return cell
}

func (t *sheet) fault(name string, expected *fault.Fault) {
	t.bad = true
	f := fit.Fault{File: t.out.Name, Field: name, Value: t.cell(name), Expected: expected}
	i := min(t.columns[name], len(t.fields)-1)
	f.Line, f.Column = t.csv.FieldPos(i)
	f.Line += t.before
	t.out.Faults = append(t.out.Faults, f)
}

// checkWidth finds a row with more in it than the header names: a decimal comma
// between commas would else become another number.
func (t *sheet) checkWidth() {
	for i := t.width; i < len(t.fields); i++ {
		if strings.TrimSpace(t.fields[i]) == "" {
			continue
		}
		t.bad = true
		f := fit.Fault{File: t.out.Name, Value: strings.Clone(t.fields[i]),
			Expected: wantValues.With("n", t.width)}
		f.Line, f.Column = t.csv.FieldPos(i)
		f.Line += t.before
		t.out.Faults = append(t.out.Faults, f)
		return
	}
}

// file is the name from the folder, with slashes, as Entry.Path has it.
func (t *sheet) file() string {
	name := strings.ReplaceAll(t.cell("file"), `\`, "/")
	if name == "" {
		t.fault("file", wantFile.With())
		return ""
	}
	if path.IsAbs(name) || (len(name) > 1 && name[1] == ':') {
		t.fault("file", wantNoRoot.With())
	}
	return Composed(path.Clean(name))
}

const longestWord = 100

func (t *sheet) text(name string) string {
	s := t.cell(name)
	if len(s) > longestWord {
		t.fault(name, wantShort.With("n", longestWord))
	}
	return s
}

// number is nil where the cell is empty or not a number in the range.
func (t *sheet) number(name string, low, high float64, expected *fault.Fault) *float64 {
	s := t.cell(name)
	if s == "" {
		return nil
	}
	v, err := parseDecimal(s)
	if err != nil || !(v >= low && v <= high) {
		t.fault(name, expected)
		return nil
	}
	return &v
}
