package desk

import (
	"context"
	"errors"
	"fmt"
	"maps"

	"sitspan/cmd/sitspan/internal/intake"
	"sitspan/cmd/sitspan/internal/record"
	"sitspan/cmd/sitspan/internal/store"
	"sitspan/cmd/sitspan/internal/worker"
)

// begin marks something as being made; false where it is already.
func (d *Desk) begin(what string) bool {
	d.mu.Lock()
	defer d.mu.Unlock()
	if d.busy[what] {
		return false
	}
	d.busy[what] = true
	return true
}

func (d *Desk) end(what string) {
	d.mu.Lock()
	defer d.mu.Unlock()
	delete(d.busy, what)
}

// busyNow is what is being made at this moment.
func (d *Desk) busyNow() map[string]bool {
	d.mu.Lock()
	defer d.mu.Unlock()
	return maps.Clone(d.busy)
}

func (d *Desk) isBusy(what string) bool {
	d.mu.Lock()
	defer d.mu.Unlock()
	return d.busy[what]
}

// tellEarly lets a phone know what was measured before it is kept; nil when it
// is.
func (d *Desk) tellEarly(shotID int64, m *record.Measurement) {
	d.mu.Lock()
	defer d.mu.Unlock()
	if m == nil {
		delete(d.early, shotID)
	} else if shotID != 0 {
		d.early[shotID] = *m
	}
}

func (d *Desk) earlyOf(shotID int64) (record.Measurement, bool) {
	d.mu.Lock()
	defer d.mu.Unlock()
	m, ok := d.early[shotID]
	return m, ok
}

func shotKey(id int64) string  { return fmt.Sprint("shot ", id) }
func visitKey(id int64) string { return fmt.Sprint("visit ", id) }

// measure measures a photo in the background and keeps the record.
func (d *Desk) measure(shot store.Shot) {
	if !d.begin(shotKey(shot.ID)) {
		return
	}
	d.working.Go(func() {
		for d.make(store.OfPhoto, shot.VisitID, shot.ID, [][]store.Shot{{shot}}) {
			if now, err := d.store.Shot(d.ctx, shot.ID); err == nil {
				shot = now
			}
		}
		d.end(shotKey(shot.ID))
		d.settle(d.ctx, shot.VisitID)
	})
}

// make makes one record and keeps it. A process that ended makes a record that
// says so; a desk that is closing makes none. stale says that the visit's pad or
// gauge was changed meanwhile.
func (d *Desk) make(kind string, visitID, shotID int64, sittings [][]store.Shot) (stale bool) {
	visit, err := d.store.Visit(d.ctx, visitID)
	if err != nil {
		d.logf("a photo was not measured: %v", err)
		return false
	}
	j := worker.Job{Draw: drawn, Strip: shotID != 0}
	for _, shots := range sittings {
		var photos []worker.Photo
		for _, s := range shots {
			photos = append(photos, d.jobPhoto(d.ctx, s))
		}
		j.Sittings = append(j.Sittings, photos)
	}
	answer, err := d.queue.do(d.ctx, d.settings(d.ctx, visit.SetUp), j,
		func(a worker.Answer) { d.tellEarly(shotID, &a.Record.Measurement) })
	defer d.tellEarly(shotID, nil)
	if d.ctx.Err() != nil {
		return false
	}
	if err != nil {
		d.logf("a photo was not measured: %v", err)
		answer = worker.Answer{Record: failedRecord(intake.Version, j.Sittings[0][0], err)}
	}
	if shot, err := d.store.Shot(d.ctx, shotID); err == nil && !shot.Covered {
		if err := d.cover(context.WithoutCancel(d.ctx), shotID, answer); err != nil {
			d.logf("a card's face was not covered, so nothing is kept of its photo's measurement: %v", err)
			return false
		}
		if err := d.strip(context.WithoutCancel(d.ctx), shot, answer); err != nil {
			d.logf("a photo's place and owner were not taken out, so nothing is kept of its measurement: %v", err)
			return false
		}
	}
	answer.Record.Alias = visit.Alias
	k := store.Kept{VisitID: visitID, ShotID: shotID, Kind: kind, Record: answer.Record}
	k.Renews = d.renewed(visitID, k)
	if _, err := d.store.AddRecord(context.WithoutCancel(d.ctx), k, answer.Pictures); err != nil {
		if !errors.Is(err, store.ErrNotFound) {
			d.logf("a measurement was not kept: %v", err)
		}
		return false
	}
	after, err := d.store.Visit(d.ctx, visitID)
	return err == nil && !after.SetUp.Same(visit.SetUp)
}
