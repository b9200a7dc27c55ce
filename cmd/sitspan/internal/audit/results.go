package audit

import (
	"bufio"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"iter"
	"os"
	"path/filepath"

	"sitspan/cmd/sitspan/internal/wholefile"
)

// Names in the folder of results.
const (
	runFile        = "audit.json"      // under what it was measured
	filesFile      = "files.jsonl"     // every file of the folder, or of the shard
	journalFile    = "journal.jsonl"   // what was measured, as it was measured
	recordsDir     = "records"         //
	overlaysDir    = "overlays"        //
	thumbnailsDir  = "thumbnails"      // for the report, in which they are kept, too
	statisticsFile = "statistics.json" //
	rowsCSVFile    = "rows.csv"        //
	rowsJSONFile   = "rows.jsonl"      //
	reportFile     = "report.html"     //
)

// runSchema is the version of the layout of a folder of results.
const runSchema = 1

// Identity says under what an audit was made. What was measured under another
// key is measured again.
type Identity struct {
	Schema   int             `json:"schema"`
	Tool     string          `json:"tool"`
	Version  string          `json:"version"`
	Model    string          `json:"model"`
	Settings json.RawMessage `json:"settings"`
	Folder   string          `json:"folder"` // its own name, without where it lies
	Shard    string          `json:"shard"`
}

// results is a folder of results.
type results struct{ dir string }

func (r results) path(name string) string { return filepath.Join(r.dir, name) }

// ErrThere is the error of results that are there already.
var ErrThere = errors.New("there is an audit in it already; add --resume to go on with it, or name another folder by --out")

// open makes the folder of results. An audit that is there is not touched
// without resume, and neither is a folder that holds anything else.
func (r results) open(resume bool) error {
	names, err := os.ReadDir(r.dir)
	switch {
	case errors.Is(err, fs.ErrNotExist):
	case err != nil:
		return fmt.Errorf("folder for results: %w", err)
	case len(names) == 0:
	case !r.has(runFile):
		return fmt.Errorf("folder for results: %s holds other files: name a new or empty folder by --out", r.dir)
	case !resume:
		return fmt.Errorf("folder for results: %s: %w", r.dir, ErrThere)
	}
	for _, d := range []string{recordsDir, overlaysDir, thumbnailsDir} {
		if err := os.MkdirAll(r.path(d), 0o755); err != nil {
			return fmt.Errorf("folder for results: %w", err)
		}
	}
	return nil
}

func (r results) has(name string) bool {
	_, err := os.Stat(r.path(name))
	return err == nil
}

// writeWhole writes a file that is there whole or not at all.
func (r results) writeWhole(name string, write func(io.Writer) error) error {
	return wholefile.Write(r.path(name), write)
}

func (r results) writeJSON(name string, v any) error {
	return r.writeWhole(name, func(w io.Writer) error {
		data, err := json.MarshalIndent(v, "", "  ")
		if err == nil {
			_, err = w.Write(append(data, '\n'))
		}
		return err
	})
}

// writeLines writes a value a line. Where one cannot be had, nothing is written.
func writeLines[T any](r results, name string, values iter.Seq2[T, error]) error {
	return r.writeWhole(name, func(w io.Writer) error { return encodeLines(w, values) })
}

func encodeLines[T any](w io.Writer, values iter.Seq2[T, error]) error {
	lines := json.NewEncoder(w)
	lines.SetEscapeHTML(false)
	for v, err := range values {
		if err == nil {
			err = lines.Encode(&v)
		}
		if err != nil {
			return err
		}
	}
	return nil
}

// lineBuffer is small, since many files are read at once; a line has some 0.7 kB.
const lineBuffer = 1 << 13

// readLines reads what writeLines wrote, a value at a time. A last line that is
// cut short, as a kill leaves it, is passed over. An error is the last that it
// gives.
func readLines[T any](r results, name string) iter.Seq2[T, error] {
	return func(yield func(T, error) bool) {
		var none T
		f, err := os.Open(r.path(name))
		if err != nil {
			yield(none, err)
			return
		}
		defer f.Close()
		in := bufio.NewReaderSize(f, lineBuffer)
		for number := 1; ; number++ {
			line, end := in.ReadBytes('\n')
			if end != nil && end != io.EOF {
				yield(none, end)
				return
			}
			if len(line) == 0 {
				return
			}
			var v T
			if err := json.Unmarshal(line, &v); err != nil {
				if end != io.EOF {
					yield(none, fmt.Errorf("%s: line %d: %w", r.path(name), number, err))
				}
				return
			}
			if !yield(v, nil) {
				return
			}
		}
	}
}

// readIdentity reads under what the results were made.
func (r results) readIdentity() (id Identity, err error) {
	data, err := os.ReadFile(r.path(runFile))
	if err != nil {
		return id, fmt.Errorf("%s holds no audit: %w", r.dir, err)
	}
	if err := json.Unmarshal(data, &id); err != nil {
		return id, fmt.Errorf("%s: %w", r.path(runFile), err)
	}
	if id.Schema != runSchema {
		return id, fmt.Errorf("%s: schema is %d, this version reads %d: make the audit again", r.path(runFile), id.Schema, runSchema)
	}
	return id, nil
}
