package archive

import (
	"context"
	"errors"
	"io"
	"iter"
	"os"
	"path"
	"path/filepath"

	"sitspan/cmd/sitspan/internal/record"
	"sitspan/cmd/sitspan/internal/words"
	"sitspan/imprint/codes"
)

// Source is a folder of pictures, or a shard of it, and where they are measured.
type Source struct {
	Folder string
	Shard  Shard
	Bench  Bench
	// Watch is told how far the run is.
	Watch func(Progress)
}

// Interrupted is the error of a run that was asked to stop.
type Interrupted struct{ Done, Total int }

func (e *Interrupted) Error() string { return e.said().Error() }

// Unwrap gives the error that has words in each language.
func (e *Interrupted) Unwrap() error { return e.said() }

func (e *Interrupted) said() error {
	return words.Fault("audit.stopped", words.Values{"done": e.Done, "total": e.Total})
}

// Check looks before anything is written: out is the folder of results.
func (p Source) Check(out string) error {
	if sameFile(p.Folder, out) {
		return words.Fault("error.audit.same_folder", nil)
	}
	f, err := os.Open(p.Folder)
	if err == nil {
		_, err = f.ReadDir(1)
		f.Close()
	}
	if err != nil && err != io.EOF {
		return words.Fault("error.audit.unlisted", words.Values{"why": err})
	}
	return nil
}

// Name is the folder's own name, without where it lies.
func (p Source) Name() string {
	path, err := filepath.Abs(p.Folder)
	if err != nil {
		return ""
	}
	return filepath.Base(path)
}

// Take lists the folder and measures what is not measured yet.
func (p Source) Take(ctx context.Context, r Results, s *Scratch, key string) error {
	if err := p.list(ctx, r, s); err != nil {
		return err
	}
	return p.measure(ctx, r, s, key)
}

// list writes what the walk finds to files.jsonl, in the order of the names and
// with the contents' hashes, a line a page; other shards' files are left out.
func (p Source) list(ctx context.Context, r Results, s *Scratch) error {
	found, shard := NewTable(s, (*Entry).order), p.Shard
	files := 0
	err := walk(ctx, p.Folder, r.Dir, func(e Entry) error {
		if !shard.Holds(e.Path) {
			return nil
		}
		files++
		return found.Add(e)
	})
	if err == nil {
		pages := NewTable(s, (*Entry).order)
		for e, identifyErr := range p.identified(ctx, found, files) {
			if err = identifyErr; err == nil {
				err = pages.Add(e)
			}
			if err != nil {
				break
			}
		}
		if err == nil {
			err = WriteLines(r, filesFile, pages.All())
		}
	}
	if err != nil && ctx.Err() != nil {
		err = &Interrupted{0, files}
	}
	return err
}

// identified reads the files' contents for their hashes.
func (p Source) identified(ctx context.Context, found *Table[Entry], total int) iter.Seq2[Entry, error] {
	return func(yield func(Entry, error) bool) {
		done, buffer := 0, make([]byte, 1<<16)
		for e, err := range found.All() {
			if err == nil {
				err = ctx.Err()
			}
			var pages []Entry
			if err == nil {
				pages = identify(p.Folder, &e, buffer)
				done++
				p.Watch(Progress{Stage: "reading", Done: done, Total: total})
			}
			if !yield(e, err) {
				return
			}
			for _, page := range pages {
				if !yield(page, nil) {
					return
				}
			}
		}
	}
}

// measure measures each content once, those of the journal not again.
func (p Source) measure(ctx context.Context, r Results, s *Scratch, key string) error {
	if err := mendJournal(r); err != nil {
		return err
	}
	j, err := openJournal(r)
	if err != nil {
		return err
	}
	defer j.close()
	progress := Progress{Stage: "measuring"}
	todo, err := p.tasks(r, s, key, &progress)
	if err != nil {
		return err
	}
	p.Watch(progress)
	err = p.Bench.measureAll(
		ctx,
		p.Folder,
		r,
		progress.Total-progress.Done,
		todo.All(),
		func(f finished) error {
			d, err := keep(r, f, key)
			if err != nil {
				return err
			}
			progress.count(d)
			p.Watch(progress)
			return j.add(d)
		},
	)
	if err != nil && ctx.Err() != nil && errors.Is(err, context.Cause(ctx)) {
		return &Interrupted{progress.Done, progress.Total}
	}
	return err
}

// tasks are the contents that are not measured yet, in the order of their first
// files' names. A file that cannot be read at all gets its record here.
func (p Source) tasks(r Results, s *Scratch, key string, progress *Progress) (*Table[content], error) {
	todo := NewTable(s, func(c *content) []any { return []any{c.N} })
	unread := func(_ int, e Entry) error {
		_, err := record.Save(
			r.Path(recordsDir), RecordName(e.Path, pathHash(e.Path)), failedRecord(e.Path, e.Trouble),
		)
		return err
	}
	err := r.eachContent(s, unread, func(c content) error {
		if c.N != c.First {
			return nil
		}
		progress.Total++
		done, err := r.stillDone(c.Done, key)
		if err != nil {
			return err
		}
		if done {
			progress.count(*c.Done)
			return nil
		}
		return todo.Add(c)
	})
	return todo, err
}

// keep writes the record of a photo that was measured.
func keep(r Results, f finished, key string) (Done, error) {
	rec := f.answer.Record
	if len(rec.Photos) > 0 && rec.Photos[0].SHA256 != f.entry.SHA256 {
		rec = failedRecord(f.entry.Path, trouble(codes.FileChanged.With()))
	}
	name := f.name
	if len(rec.Photos) == 0 { // so that its record stays this picture's, whatever becomes of it
		rec.Photos = []record.Photo{{Name: path.Base(f.entry.Path), SHA256: f.entry.SHA256}}
	}
	if old, err := record.Load(r.Path(RecordPath(name))); err == nil {
		rec.Reviews = old.Reviews // a person's word on this picture holds
	}
	if _, err := record.Save(r.Path(recordsDir), name, rec); err != nil {
		return Done{}, err
	}
	d := Done{
		SHA256: f.entry.SHA256, Key: key, Status: rec.Measurement.Status, Record: name, Lost: f.lost != nil,
		Fingerprint: f.answer.Fingerprint, Seconds: f.answer.Seconds, DecodeSeconds: f.answer.DecodeSeconds,
	}
	if reasons := rec.Measurement.Reasons; d.Status == record.Failed && len(reasons) > 0 {
		d.Ignored = passedOver(f.entry.Path, reasons[0].Code)
	}
	if d.Status != record.Failed {
		d.Overlay, d.Undrawn = f.answer.OverlayError == "", f.answer.OverlayError
	}
	return d, nil
}
