package archive

import (
	"bufio"
	"encoding/json"
	"errors"
	"io"
	"io/fs"
	"iter"
	"os"
	"path/filepath"
	"slices"

	"sitspan/cmd/sitspan/internal/lockfile"
	"sitspan/cmd/sitspan/internal/wholefile"
	"sitspan/cmd/sitspan/internal/words"
)

// Names in the folder of results.
const (
	lockFile      = "audit.lock"    // whoever has it locked works on the folder
	runFile       = "audit.json"    // under what it was measured
	filesFile     = "files.jsonl"   // every file of the folder, or of the shard
	journalFile   = "journal.jsonl" // what was measured, as it was measured
	recordsDir    = "records"       //
	overlaysDir   = "overlays"      //
	thumbnailsDir = "thumbnails"    // for the report, in which they are kept, too
)

// Results is a folder of results.
type Results struct{ Dir string }

// Path is a name of the folder as the system takes it.
func (r Results) Path(name string) string { return filepath.Join(r.Dir, name) }

// ErrThere is the error of results that are there already.
var ErrThere = words.Fault("error.audit.there", nil)

// Open makes the folder of results and locks it; close gives the lock back. An audit
// that is there is not touched without resume, and neither is one that a newer version
// made, nor a folder that holds anything else.
func (r Results) Open(resume bool) (close func(), err error) {
	if err := r.check(resume); err != nil {
		return nil, words.Fault("error.audit.folder", words.Values{"why": err})
	}
	if err := r.makeFolders(); err != nil {
		return nil, words.Fault("error.audit.folder", words.Values{"why": err})
	}
	lock, err := lockfile.Take(r.Path(lockFile), "an audit into "+r.Dir)
	held := (*lockfile.Held)(nil)
	switch {
	case errors.As(err, &held):
		return nil, words.Fault("error.audit.busy", words.Values{"dir": r.Dir, "why": err})
	case errors.Is(err, lockfile.ErrUnable):
		return func() {}, nil // some shared file systems; there each shard has a folder of its own
	case err != nil:
		return nil, words.Fault("error.audit.folder", words.Values{"why": err})
	}
	wholefile.Sweep(r.Dir)
	for _, name := range folders {
		wholefile.Sweep(r.Path(name))
	}
	return func() { _ = lock.Close() }, nil
}

// check looks before anything is written.
func (r Results) check(resume bool) error {
	names, err := os.ReadDir(r.Dir)
	names = slices.DeleteFunc(
		names, func(e fs.DirEntry) bool {
			return e.Name() == lockFile || wholefile.Unfinished(e.Name()) || r.emptyOwn(e)
		},
	)
	switch {
	case errors.Is(err, fs.ErrNotExist):
		return nil
	case err != nil:
		return err
	case !r.Has(runFile) && len(names) == 0:
		return nil
	case !r.Has(runFile):
		return words.Fault("error.audit.other_files", words.Values{"dir": r.Dir})
	case !resume:
		return words.Fault("error.of_file", words.Values{"file": r.Dir, "why": ErrThere})
	}
	_, err = r.Identity()
	return err
}

// emptyOwn says whether a name is an empty folder as makeFolders makes it: a kill may
// have come before anything was written.
func (r Results) emptyOwn(e fs.DirEntry) bool {
	if !e.IsDir() || !slices.Contains(folders, e.Name()) {
		return false
	}
	inside, err := os.ReadDir(r.Path(e.Name()))
	return err == nil && !slices.ContainsFunc(inside, func(e fs.DirEntry) bool {
		return !wholefile.Unfinished(e.Name())
	})
}

// folders are the folders in a folder of results.
var folders = []string{recordsDir, overlaysDir, thumbnailsDir}

func (r Results) makeFolders() error {
	for _, d := range folders {
		if err := os.MkdirAll(r.Path(d), 0o755); err != nil {
			return err
		}
	}
	return nil
}

// Has says whether there is a file or folder of a name.
func (r Results) Has(name string) bool {
	_, err := os.Stat(r.Path(name))
	return err == nil
}

// WriteWhole writes a file that is there whole or not at all.
func (r Results) WriteWhole(name string, write func(io.Writer) error) error {
	return wholefile.Write(r.Path(name), write)
}

// WriteJSON writes a value as indented JSON.
func (r Results) WriteJSON(name string, v any) error {
	return r.WriteWhole(name, func(w io.Writer) error {
		data, err := json.MarshalIndent(v, "", "  ")
		if err == nil {
			_, err = w.Write(append(data, '\n'))
		}
		return err
	})
}

// WriteLines writes a value a line. Where one cannot be had, nothing is written.
func WriteLines[T any](r Results, name string, values iter.Seq2[T, error]) error {
	return r.WriteWhole(name, func(w io.Writer) error { return encodeLines(w, values) })
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

// ReadLines reads what WriteLines wrote, a value at a time. A last line that is
// cut short, as a kill leaves it, is passed over. An error is the last that it
// gives.
func ReadLines[T any](r Results, name string) iter.Seq2[T, error] {
	return func(yield func(T, error) bool) {
		var none T
		f, err := os.Open(r.Path(name))
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
					yield(none, words.Fault("error.line", words.Values{
						"file": r.Path(name), "n": number, "why": err,
					}))
				}
				return
			}
			if !yield(v, nil) {
				return
			}
		}
	}
}

// Files is the number of files that are listed.
func (r Results) Files() (n int, err error) {
	for _, err := range ReadLines[json.RawMessage](r, filesFile) {
		if err != nil {
			return n, err
		}
		n++
	}
	return n, nil
}
