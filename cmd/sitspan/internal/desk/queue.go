package desk

import (
	"context"
	"os/exec"
	"sync/atomic"
	"time"

	"sitspan/cmd/sitspan/internal/proof"
	"sitspan/cmd/sitspan/internal/record"
	"sitspan/cmd/sitspan/internal/store"
	"sitspan/cmd/sitspan/internal/words"
	"sitspan/cmd/sitspan/internal/worker"
	"sitspan/imprint/photo"
)

// queue runs jobs in child processes, few at a time, so that ten phones do not exhaust the memory: what
// waits is a name of a file, not a picture. Each job has a child of its own, since the next photo may be
// another rider's.
type queue struct {
	slots   chan struct{}
	waiting atomic.Int64
	limit   time.Duration
	command func() *exec.Cmd
}

// The queue's bounds.
const (
	atOnce     = 2   // children at once
	mostQueued = 200 // jobs that may wait
	jobLimit   = 60 * time.Second
	jobSeconds = 120 // of a child's processor time
)

// The longer sides of the pictures that are kept with a record, px.
const (
	overlaySide = 1800
	viewSide    = 2400
	thumbSide   = 360
)

// drawn are the pictures that are kept with a record.
var drawn = func() []worker.Drawing {
	all := []worker.Drawing{{Name: store.View, Side: viewSide}, {Name: store.Thumb, Side: thumbSide}}
	for _, l := range words.Langs() {
		all = append(all, worker.Drawing{Name: store.OverlayIn(string(l)), Side: overlaySide, Lang: string(l)})
	}
	return all
}()

var errBusy = words.Fault("desk.busy", nil)

func newQueue(command func() *exec.Cmd) *queue {
	return &queue{slots: make(chan struct{}, atOnce), limit: jobLimit, command: command}
}

// do waits for a place, runs the job in a child and gives its answer. A child that died, or took too
// long, costs this job only. early hears of the record before the pictures are drawn; nil for nobody.
func (q *queue) do(ctx context.Context, s worker.Settings, j worker.Job,
	early func(worker.Answer)) (worker.Answer, error) {
	if q.waiting.Add(1) > mostQueued {
		q.waiting.Add(-1)
		return worker.Answer{}, errBusy
	}
	defer q.waiting.Add(-1)
	select {
	case q.slots <- struct{}{}:
	case <-ctx.Done():
		return worker.Answer{}, ctx.Err()
	}
	defer func() { <-q.slots }()
	s.CPUSeconds = jobSeconds
	hand := &worker.Hand{Command: q.command, Settings: s, Limit: q.limit, Early: early}
	defer hand.Close()
	answer, err := hand.Do(ctx, j)
	if err == nil && answer.Error != nil {
		err = answer.Error.Err()
	}
	return answer, err
}

// settings are what a visit's photos are measured under.
func (d *Desk) settings(ctx context.Context, set store.SetUp) worker.Settings {
	return worker.Settings{
		Checks: d.checks(ctx), Shop: d.shopNow().Path, Medium: set.Medium, Pad: set.Pad, DepthMM: set.DepthMM,
		MaxBytes: d.limits.Bytes, MaxPixels: d.limits.Pixels,
	}
}

// checks are the shop's own, with known distances. Where they cannot be read, a rider is measured all the
// same.
func (d *Desk) checks(ctx context.Context) []proof.Kept {
	kept, err := d.store.Kept(ctx)
	if err != nil {
		d.logf("the shop's checks were not read: %v", err)
	}
	return kept
}

// jobPhoto is a shot as a child is told of it, with the card that was found in it before.
func (d *Desk) jobPhoto(ctx context.Context, s store.Shot) worker.Photo {
	p := worker.Photo{Path: d.store.PhotoPath(s), Name: s.Name, SHA: s.SHA256}
	records, err := d.store.Records(ctx, s.VisitID)
	if err != nil {
		d.logf("what was found in a photo before is not known: %v", err)
	}
	for _, k := range records {
		if k.ShotID == s.ID && len(k.Record.Photos) == 1 && k.Record.Photos[0].Card != nil {
			of := k.Record.Photos[0]
			p.Card, p.Size = of.Card, [2]int{of.Width, of.Height}
		}
	}
	return p
}

// one is the only photo of a job.
func one(p worker.Photo) [][]worker.Photo { return [][]worker.Photo{{p}} }

// failedRecord is the record of a photo that no child could measure.
func failedRecord(version string, p worker.Photo, why error) record.Record {
	return record.Record{
		Schema: record.Schema, Tool: "sitspan", Version: version, MadeAt: now().UTC().Truncate(time.Second),
		Photos: []record.Photo{{Name: p.Name, SHA256: p.SHA}},
		Measurement: record.Measurement{Photo: p.Name, Status: record.Failed, Coverage: 0.95,
			Budget: []record.BudgetLine{},
			Reasons: []record.Reason{{Code: "process_ended", Message: why.Error(),
				Hint: "take the photo again; if it stays, send it as JPEG"}}},
	}
}

// withDefaults fills in a photo's limits.
func withDefaults(l photo.Limits) photo.Limits {
	if l.Bytes == 0 {
		l.Bytes = photo.DefaultBytes
	}
	if l.Pixels == 0 {
		l.Pixels = photo.DefaultPixels
	}
	return l
}
