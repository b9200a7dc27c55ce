package audit

import (
	"encoding/csv"
	"encoding/json"
	"fmt"
	"io"
	"iter"

	"github.com/jszwec/csvutil"
)

// write makes the account and its files.
func (v Review) write(r results, s *spill, id Identity) (*Account, error) {
	files, err := linesIn(r, filesFile)
	if err != nil {
		return nil, err
	}
	a, rows, err := v.explain(r, s, id, files)
	if err != nil {
		return nil, err
	}
	if t := a.Statistics.Tally; !t.Closes() || t.Files != files {
		return nil, fmt.Errorf("the tally does not close: %+v for %d files; this is a fault of the program, please report it", t, files)
	}
	for _, write := range []func() error{
		func() error {
			return writeLines(r, rowsJSONFile, a.marked(readLines[Row](s.results, rows), v.steps("writing rows", files)))
		},
		func() error {
			return r.writeWhole(rowsCSVFile, func(w io.Writer) error { return writeCSV(w, readLines[Row](r, rowsJSONFile)) })
		},
		func() error { return r.writeJSON(statisticsFile, a.Statistics) },
		func() error { return a.writeReport(r) },
	} {
		if err := write(); err != nil {
			return nil, fmt.Errorf("the results could not be written: %w", err)
		}
	}
	return a, nil
}

// linesIn counts the lines of a file.
func linesIn(r results, name string) (n int, err error) {
	for _, err := range readLines[json.RawMessage](r, name) {
		if err != nil {
			return n, err
		}
		n++
	}
	return n, nil
}

// marked marks the outliers among the rows, and keeps those that the report shows.
func (a *Account) marked(rows iter.Seq2[Row, error], step func()) iter.Seq2[Row, error] {
	a.lists = newLists()
	return func(yield func(Row, error) bool) {
		n := 0
		for row, err := range rows {
			if err == nil {
				row.Outlier = a.counted.outliers[n]
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
	encoder := csvutil.NewEncoder(lines)
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
