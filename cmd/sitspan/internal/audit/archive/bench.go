package archive

import (
	"context"
	"crypto/sha256"
	"encoding/hex"
	"errors"
	"iter"
	"path/filepath"
	"strings"
	"sync"
	"time"

	"sitspan/cmd/sitspan/internal/record"
	"sitspan/cmd/sitspan/internal/worker"
	"sitspan/imprint/codes"
)

// Bench is where photos are measured: by so many hands at once.
type Bench struct {
	Workers int
	NewHand func() *worker.Hand
}

// task is a content to measure, under the name of the first file that has it.
type task struct {
	entry Entry
	name  string // of the record
}

// finished is a task and its answer.
type finished struct {
	task
	answer worker.Answer
	lost   error // a *worker.Lost: the answer is of our making
}

// measureAll measures n tasks and hands each to keep, one at a time, as it is
// done. When ctx ends, no more are begun; those in hand are finished and kept.
// An error of keep or of the tasks, or a hand that cannot work at all, stops it
// likewise.
func (b Bench) measureAll(
	ctx context.Context, folder string, r Results, n int, tasks iter.Seq2[content, error],
	keep func(finished) error,
) error {
	ctx, stop := context.WithCancelCause(ctx)
	defer stop(nil)
	todo, done := make(chan task), make(chan finished)
	var hands sync.WaitGroup
	for range max(1, min(b.Workers, n)) {
		hands.Go(func() {
			if err := b.work(ctx, folder, r, todo, done); err != nil {
				stop(err)
			}
		})
	}
	go func() {
		defer close(todo)
		for c, err := range tasks {
			if err != nil {
				stop(err)
				return
			}
			select {
			case todo <- task{c.Entry, RecordName(c.Entry.Path, c.Entry.SHA256)}:
			case <-ctx.Done():
				return
			}
		}
	}()
	go func() { hands.Wait(); close(done) }()
	for f := range done {
		if err := keep(f); err != nil {
			stop(err)
		}
	}
	return context.Cause(ctx)
}

// work is what one hand does. A photo that was begun is finished, even where ctx
// has ended.
func (b Bench) work(
	ctx context.Context, folder string, r Results, todo <-chan task, done chan<- finished,
) error {
	hand := b.NewHand()
	defer hand.Close()
	for t := range todo {
		job := worker.Job{
			Path: []byte(filepath.Join(folder, t.entry.raw())), Page: t.entry.Page,
			Overlay: r.Path(OverlayPath(t.name)), Thumbnail: r.Path(ThumbnailPath(t.name)),
		}
		answer, err := hand.Do(context.WithoutCancel(ctx), job)
		if lost := (*worker.Lost)(nil); err != nil && !errors.As(err, &lost) {
			return err
		}
		f := finished{task: t, answer: answer, lost: err}
		if err != nil {
			f.answer = worker.Answer{Record: lostRecord(t.entry, err)}
		}
		done <- f
	}
	return nil
}

// lostRecord is the record of a photo on which the measuring process ended.
func lostRecord(e Entry, err error) record.Record {
	said := codes.ProcessLost.With(err.Error())
	if lost := (*worker.Lost)(nil); errors.As(err, &lost) {
		if said = codes.ProcessLost.With(lost.Why); lost.TimedOut {
			said = codes.ProcessLate.With(lost.After.Round(time.Second).Seconds())
		}
	}
	return failedRecord(e.Path, trouble(said))
}

// failedRecord is the record of a file that never came to be measured.
func failedRecord(path string, t *Trouble) record.Record {
	name := path[strings.LastIndex(path, "/")+1:]
	return record.Record{
		Schema: record.Schema, Tool: "sitspan",
		MadeAt: time.Now().UTC().Truncate(time.Second), Photos: []record.Photo{},
		Measurement: record.Measurement{
			Photo:    name,
			Status:   record.Failed,
			Coverage: 0.95,
			Budget:   []record.BudgetLine{},
			Reasons: []record.Reason{
				{Code: t.Code, Form: t.Form, Params: t.Params, Message: t.Message, Hint: t.Hint},
			},
		},
	}
}

// RecordName is the name of a record that has no picture to be named by: the
// file's, and the beginning of the hash of its content or, without one, its path.
func RecordName(path, hash string) string {
	return record.Record{
		Photos: []record.Photo{{Name: path[strings.LastIndex(path, "/")+1:], SHA256: hash}},
	}.Name()
}

// pathHash names a file that has no content to be named by.
func pathHash(path string) string {
	sum := sha256.Sum256([]byte(path))
	return hex.EncodeToString(sum[:])
}

// Progress is how far a run is.
type Progress struct {
	Stage    string // "reading", "measuring", or a part of explaining
	Done     int
	Total    int
	Measured int // of the photos measured in this run and before
	Review   int
	Refused  int
	Failed   int
	Ignored  int // no picture, and never promised to be one
}

// count adds an outcome.
func (p *Progress) count(d Done) {
	p.Done++
	if d.Ignored {
		p.Ignored++
		return
	}
	switch d.Status {
	case record.Measured:
		p.Measured++
	case record.Review:
		p.Review++
	case record.Refused:
		p.Refused++
	default:
		p.Failed++
	}
}
