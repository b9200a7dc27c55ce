package report

import (
	"encoding/csv"
	"io"
	"iter"
	"strconv"
	"strings"

	"github.com/jszwec/csvutil"

	"sitspan/cmd/sitspan/internal/audit/archive"
	"sitspan/cmd/sitspan/internal/audit/statistics"
	"sitspan/cmd/sitspan/internal/words"
)

// Names in the folder of results.
const (
	statisticsFile = "statistics.json"
	rowsCSVFile    = "rows.csv"
	rowsJSONFile   = "rows.jsonl"
	reportFile     = "report.html"
)

// Account is what an audit found: all that the statistics and the report say. The
// rows are in the folder of results.
type Account struct {
	Lang       words.Lang // of the page and the summary; the rows have codes and English
	Identity   archive.Identity
	Statistics Statistics
	Readings   statistics.Readings // with the faults that only the files show
	Throughput archive.Throughput
	Counted    *Counter

	lists lists
}

// Write writes the rows, in the order of the files' names, the statistics and the
// page. step is called for each row.
func (a *Account) Write(r archive.Results, rows iter.Seq2[Row, error], step func()) error {
	for _, write := range []func() error{
		func() error { return archive.WriteLines(r, rowsJSONFile, a.marked(rows, step)) },
		func() error {
			return r.WriteWhole(rowsCSVFile, func(w io.Writer) error {
				return writeCSV(w, archive.ReadLines[Row](r, rowsJSONFile))
			})
		},
		func() error { return r.WriteJSON(statisticsFile, a.Statistics) },
		func() error { return a.writePage(r) },
	} {
		if err := write(); err != nil {
			return words.Fault("error.results", words.Values{"why": err})
		}
	}
	return nil
}

// marked marks the outliers among the rows, and keeps those that the report shows.
func (a *Account) marked(rows iter.Seq2[Row, error], step func()) iter.Seq2[Row, error] {
	a.lists = newLists()
	return func(yield func(Row, error) bool) {
		n := 0
		for row, err := range rows {
			if err == nil {
				row.Outlier = a.Counted.outliers[n]
				_, row.CallBack = a.Counted.callBack[n]
				a.lists.add(row)
				n++
				step()
			}
			if !yield(row, err) {
				return
			}
		}
	}
}

// writeCSV writes a row a file, under a header.
func writeCSV(w io.Writer, rows iter.Seq2[Row, error]) error {
	lines := csv.NewWriter(w)
	encoder := csvutil.NewEncoder(harmless{lines})
	if err := encoder.EncodeHeader(Row{}); err != nil {
		return err
	}
	for row, err := range rows {
		if err == nil {
			err = encoder.Encode(&row)
		}
		if err != nil {
			return err
		}
	}
	lines.Flush()
	return lines.Error()
}

// harmless writes lines of which a spreadsheet takes no cell for a formula: text that
// begins like one gets an apostrophe before it (OWASP, CSV Injection). Numbers stay.
type harmless struct{ lines *csv.Writer }

// Write is csvutil's.
func (h harmless) Write(line []string) error {
	for i, cell := range line {
		if cell == "" || !strings.ContainsRune("=+-@\t\r", rune(cell[0])) {
			continue
		}
		if _, err := strconv.ParseFloat(cell, 64); err != nil {
			line[i] = "'" + cell
		}
	}
	return h.lines.Write(line)
}
