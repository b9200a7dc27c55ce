package audit

import (
	"cmp"
	"context"
	"errors"
	"fmt"
	"io"
	"iter"
	"os"
	"path"
	"path/filepath"

	"sitspan/cmd/sitspan/internal/record"
)

// Plan is an audit to make.
type Plan struct {
	Folder   string
	Out      string // folder of results
	Resume   bool
	Shard    Shard
	Identity Identity // Version, Model and Settings; the rest is filled in
	Bench    Bench
	Review   Review // how the measurements are compared and explained
	// Watch is told how far the run is; it may be nil.
	Watch func(Progress)
}

// Interrupted is the error of a run that was asked to stop.
type Interrupted struct{ Done, Total int }

func (e *Interrupted) Error() string {
	return fmt.Sprintf("stopped after %d of %d photos; all that was begun is kept", e.Done, e.Total)
}

// Run makes an audit: it lists the folder, measures what is not measured yet,
// and writes the rows, the statistics and the report.
func Run(ctx context.Context, p Plan) (*Account, error) {
	if p.Watch == nil {
		p.Watch = func(Progress) {}
	}
	r := results{p.Out}
	if err := p.checkFolders(); err != nil {
		return nil, err
	}
	if err := r.open(p.Resume); err != nil {
		return nil, err
	}
	id := p.identity()
	if err := r.writeJSON(runFile, id); err != nil {
		return nil, err
	}
	s, err := newSpill(r)
	if err != nil {
		return nil, err
	}
	defer s.remove()
	if err := p.list(ctx, r, s); err != nil {
		return nil, err
	}
	if err := p.measure(ctx, r, s, id.Key()); err != nil {
		return nil, err
	}
	p.Review.Watch = p.Watch
	return p.Review.write(r, s, id)
}

func (p Plan) identity() Identity {
	id := p.Identity
	id.Schema, id.Tool, id.Shard = runSchema, "sitspan audit", p.shard().String()
	if path, err := filepath.Abs(p.Folder); err == nil {
		id.Folder = filepath.Base(path)
	}
	return id
}

func (p Plan) shard() Shard {
	if p.Shard.Of == 0 {
		return Shard{1, 1}
	}
	return p.Shard
}

// checkFolders looks before anything is written.
func (p Plan) checkFolders() error {
	if sameFile(p.Folder, p.Out) {
		return errors.New("the folder of results is the folder to audit; needed: another one, by --out")
	}
	f, err := os.Open(p.Folder)
	if err == nil {
		_, err = f.ReadDir(1)
		f.Close()
	}
	if err != nil && err != io.EOF {
		return fmt.Errorf("the folder cannot be listed: %w", err)
	}
	return nil
}

// list writes what the walk finds to files.jsonl, in the order of the names and
// with the contents' hashes; other shards' files are left out.
func (p Plan) list(ctx context.Context, r results, s *spill) error {
	found, shard := newSorter(s, (*Entry).order), p.shard()
	files := 0
	err := walk(ctx, p.Folder, p.Out, func(e Entry) error {
		if !shard.holds(e.Path) {
			return nil
		}
		files++
		return found.add(e)
	})
	if err == nil {
		err = writeLines(r, filesFile, p.identified(ctx, found, files))
	}
	if err != nil && ctx.Err() != nil {
		err = &Interrupted{0, files}
	}
	return err
}

// identified reads the files' contents for their hashes.
func (p Plan) identified(ctx context.Context, found *sorter[Entry], total int) iter.Seq2[Entry, error] {
	return func(yield func(Entry, error) bool) {
		done, buffer := 0, make([]byte, 1<<16)
		for e, err := range found.all() {
			if err == nil {
				err = ctx.Err()
			}
			if err == nil {
				identify(p.Folder, &e, buffer)
				done++
				p.Watch(Progress{Stage: "reading", Done: done, Total: total})
			}
			if !yield(e, err) {
				return
			}
		}
	}
}

// measure measures each content once, those of the journal not again.
func (p Plan) measure(ctx context.Context, r results, s *spill, key string) error {
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
	err = p.Bench.measureAll(ctx, p.Folder, r, progress.Total-progress.Done, todo.all(), func(f finished) error {
		d, err := keep(r, f, key)
		if err != nil {
			return err
		}
		progress.count(d.Status)
		p.Watch(progress)
		return j.add(d)
	})
	if err != nil && ctx.Err() != nil && errors.Is(err, context.Cause(ctx)) {
		return &Interrupted{progress.Done, progress.Total}
	}
	return err
}

// tasks are the contents that are not measured yet, in the order of their first
// files' names. A file that cannot be read at all gets its record here.
func (p Plan) tasks(r results, s *spill, key string, progress *Progress) (*sorter[content], error) {
	todo := newSorter(s, func(a, b *content) int { return cmp.Compare(a.N, b.N) })
	unread := func(_ int, e Entry) error {
		_, err := record.Save(r.path(recordsDir), recordName(e.Path, pathHash(e.Path)), failedRecord(e.Path, e.Trouble))
		return err
	}
	err := r.eachContent(s, unread, func(c content) error {
		if c.N != c.First {
			return nil
		}
		progress.Total++
		if c.Done != nil && r.stillDone(*c.Done, key) {
			progress.count(c.Done.Status)
			return nil
		}
		return todo.add(c)
	})
	return todo, err
}

// keep writes the record of a photo that was measured.
func keep(r results, f finished, key string) (Done, error) {
	rec := f.answer.Record
	if len(rec.Photos) > 0 && rec.Photos[0].SHA256 != f.entry.SHA256 {
		rec = failedRecord(f.entry.Path, &Trouble{Code: "changed", Message: "the file changed while it was measured (needed: a file at rest)",
			Hint: "run the audit again with --resume"})
	}
	name := f.name
	if len(rec.Photos) == 0 { // so that its record stays this picture's, whatever becomes of it
		rec.Photos = []record.Photo{{Name: path.Base(f.entry.Path), SHA256: f.entry.SHA256}}
	}
	if old, err := record.Load(r.path(recordPath(name))); err == nil {
		rec.Reviews = old.Reviews // a person's word on this picture holds
	}
	if _, err := record.Save(r.path(recordsDir), name, rec); err != nil {
		return Done{}, err
	}
	return Done{
		SHA256: f.entry.SHA256, Key: key, Status: rec.Measurement.Status, Record: name,
		Lost: f.lost != nil, Overlay: rec.Measurement.Status != record.Failed && f.answer.OverlayError == "", Fingerprint: f.answer.Fingerprint,
		Seconds: f.answer.Seconds, DecodeSeconds: f.answer.DecodeSeconds,
	}, nil
}
