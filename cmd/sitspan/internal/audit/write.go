package audit

import (
	"encoding/csv"
	"fmt"
	"io"

	"github.com/jszwec/csvutil"
)

// write makes the account and its files.
func (v Review) write(r results, id Identity, entries []Entry, known map[string]*Done) (*Account, error) {
	files := len(entries)
	a, err := v.account(r, id, entries, known)
	if err != nil {
		return nil, err
	}
	if t := a.Statistics.Tally; !t.Closes() || t.Files != files {
		return nil, fmt.Errorf("the tally does not close: %+v for %d files; this is a fault of the program, please report it", t, files)
	}
	for _, write := range []func() error{
		func() error { return writeLines(r, rowsJSONFile, a.Rows) },
		func() error { return r.writeWhole(rowsCSVFile, a.writeCSV) },
		func() error { return r.writeJSON(statisticsFile, a.Statistics) },
		func() error { return a.writeReport(r) },
	} {
		if err := write(); err != nil {
			return nil, fmt.Errorf("the results could not be written: %w", err)
		}
	}
	return a, nil
}

// writeCSV writes a row a file, under a header.
func (a *Account) writeCSV(w io.Writer) error {
	lines := csv.NewWriter(w)
	encoder := csvutil.NewEncoder(lines)
	if err := encoder.EncodeHeader(Row{}); err != nil {
		return err
	}
	for i := range a.Rows {
		if err := encoder.Encode(&a.Rows[i]); err != nil {
			return err
		}
	}
	lines.Flush()
	return lines.Error()
}
