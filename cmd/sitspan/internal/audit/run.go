package audit

import (
	"context"
	"errors"
	"fmt"
	"path"
	"path/filepath"
	"slices"

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
	entries, err := p.list(ctx)
	if err != nil {
		return nil, err
	}
	if err := r.open(p.Resume); err != nil {
		return nil, err
	}
	id := p.identity()
	if err := r.writeJSON(runFile, id); err != nil {
		return nil, err
	}
	if err := writeLines(r, filesFile, entries); err != nil {
		return nil, err
	}
	known, err := p.measure(ctx, r, entries, id.Key())
	if err != nil {
		return nil, err
	}
	p.Watch(Progress{Stage: "explaining", Total: len(entries)})
	return p.Review.write(r, id, entries, known)
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

func (p Plan) checkFolders() error {
	if sameFile(p.Folder, p.Out) {
		return errors.New("the folder of results is the folder to audit; needed: another one, by --out")
	}
	return nil
}

// list is the walk with the contents' hashes; other shards' files are left out.
func (p Plan) list(ctx context.Context) ([]Entry, error) {
	all, err := walk(ctx, p.Folder, p.Out)
	if err != nil {
		return nil, err
	}
	shard := p.shard()
	entries := slices.DeleteFunc(all, func(e Entry) bool { return !shard.holds(e.Path) })
	for i := range entries {
		if err := ctx.Err(); err != nil {
			return nil, &Interrupted{0, len(entries)}
		}
		identify(p.Folder, &entries[i])
		p.Watch(Progress{Stage: "reading", Done: i + 1, Total: len(entries)})
	}
	return entries, nil
}

// measure measures each content once, those of the journal not again, and gives
// what is known of all.
func (p Plan) measure(ctx context.Context, r results, entries []Entry, key string) (map[string]*Done, error) {
	known, err := readJournal(r)
	if err != nil {
		return nil, err
	}
	j, err := openJournal(r)
	if err != nil {
		return nil, err
	}
	defer j.close()
	progress := Progress{Stage: "measuring"}
	tasks, err := p.tasks(r, entries, known, key, &progress)
	if err != nil {
		return nil, err
	}
	p.Watch(progress)
	err = p.Bench.measureAll(ctx, p.Folder, r, tasks, func(f finished) error {
		d, err := keep(r, f, key)
		if err != nil {
			return err
		}
		known[d.SHA256] = d.shared()
		progress.count(d.Status)
		p.Watch(progress)
		return j.add(d)
	})
	if err != nil && ctx.Err() != nil && errors.Is(err, context.Cause(ctx)) {
		return nil, &Interrupted{progress.Done, progress.Total}
	}
	return known, err
}

// tasks are the contents that are not measured yet, in the order of their first
// files' names. A file that cannot be read at all gets its record here.
func (p Plan) tasks(r results, entries []Entry, known map[string]*Done, key string, progress *Progress) (tasks []task, err error) {
	seen := make(map[string]bool)
	for _, e := range entries {
		if e.Trouble != nil {
			if _, err := record.Save(r.path(recordsDir), recordName(e.Path, pathHash(e.Path)), failedRecord(e.Path, e.Trouble)); err != nil {
				return nil, err
			}
			continue
		}
		if seen[e.SHA256] {
			continue
		}
		seen[e.SHA256] = true
		progress.Total++
		if d, there := known[e.SHA256]; there && r.stillDone(*d, key) {
			progress.count(d.Status)
			continue
		}
		tasks = append(tasks, task{e, recordName(e.Path, e.SHA256)})
	}
	return tasks, nil
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
