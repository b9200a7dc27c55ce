package desk

import (
	"context"
	"errors"
	"fmt"
	"math"
	"net/http"
	"os"
	"strings"
	"time"

	"sitspan/calibration/precision"
	"sitspan/cmd/sitspan/internal/record"
	"sitspan/cmd/sitspan/internal/store"
	"sitspan/cmd/sitspan/internal/worker"
)

// past is a visit in a rider's history.
type past struct {
	store.Visit
	M        *record.Measurement
	Reviewer string
	Record   int64
	Photos   []keptPhoto
	Sheets   []store.Sheet
}

func (d *Desk) pastOf(r *http.Request, v store.Visit) (p past, err error) {
	p.Visit = v
	if v.Current != 0 {
		k, err := d.store.Record(r.Context(), v.Current)
		if err != nil {
			return p, err
		}
		m, reviewer := k.Record.Current()
		p.Record, p.Reviewer = k.ID, reviewer
		if m.Spacing != nil {
			p.M = &m
		}
	}
	p.Photos, p.Sheets, err = d.keptOf(r, v)
	return p, err
}

func (d *Desk) riderPage(w http.ResponseWriter, r *http.Request) error {
	id, err := idOf(r)
	if err != nil {
		return err
	}
	rider, err := d.store.Rider(r.Context(), id)
	if err != nil {
		return err
	}
	visits, err := d.store.Visits(r.Context(), id)
	if err != nil {
		return err
	}
	data := struct {
		Rider   store.Rider
		Visits  []past
		Numbers int
		Aside   []store.Aside
		Last    *store.Aside // that was deleted last; nil for none
		Days    int
		Saved   bool
		Deleted bool
		Notice  string
	}{Rider: rider, Days: int(asideLasts.Hours() / 24), Saved: r.URL.Query().Has("saved"),
		Deleted: r.URL.Query().Has("deleted")}
	if data.Aside, err = d.store.AsideOf(r.Context(), id); err != nil {
		return err
	}
	if len(data.Aside) > 0 {
		data.Last = &data.Aside[0]
	}
	for _, v := range visits {
		p, err := d.pastOf(r, v)
		if err != nil {
			return err
		}
		if p.M != nil {
			data.Numbers++
		}
		data.Visits = append(data.Visits, p)
	}
	return d.show(w, r, "rider", frame{Title: rider.Alias, Data: data})
}

// comparison is what two visits say of each other.
type comparison struct {
	Rider      store.Rider
	A, B       past
	Difference float64 // mm, the later minus the earlier
	U          float64 // expanded, of the difference
	Normalised float64 // E_n
	Known      bool
}

func (d *Desk) comparePage(w http.ResponseWriter, r *http.Request) error {
	id, err := idOf(r)
	if err != nil {
		return err
	}
	c := comparison{}
	if c.Rider, err = d.store.Rider(r.Context(), id); err != nil {
		return err
	}
	for name, to := range map[string]*past{"a": &c.A, "b": &c.B} {
		var visit int64
		fmt.Sscan(r.URL.Query().Get(name), &visit)
		v, err := d.store.Visit(r.Context(), visit)
		if err == nil && v.RiderID != id {
			err = store.ErrNotFound
		}
		if err == nil {
			*to, err = d.pastOf(r, v)
		}
		if err != nil {
			return err
		}
	}
	if c.A.MadeAt.After(c.B.MadeAt) {
		c.A, c.B = c.B, c.A
	}
	if c.A.M != nil && c.B.M != nil {
		c.Known = true
		c.Difference = *c.B.M.Spacing - *c.A.M.Spacing
		c.U = math.Hypot(*c.A.M.U, *c.B.M.U)
		c.Normalised = precision.Normalised(*c.B.M.Spacing, *c.B.M.U, *c.A.M.Spacing, *c.A.M.U)
	}
	return d.show(w, r, "compare", frame{Title: c.Rider.Alias, Data: c})
}

// export sends all that is kept of a rider. It is made whole first, so that
// what arrives is not half of it.
func (d *Desk) export(w http.ResponseWriter, r *http.Request) error {
	id, err := idOf(r)
	if err != nil {
		return err
	}
	if err := d.allMeasured(r, id); err != nil {
		return err
	}
	f, err := d.store.TempFile()
	if err != nil {
		return err
	}
	defer os.Remove(f.Name())
	defer f.Close()
	if err := d.store.Export(r.Context(), f, id, d.plain); err != nil {
		return err
	}
	w.Header().Set("Content-Type", "application/zip")
	w.Header().Set("Content-Disposition", fmt.Sprintf(`attachment; filename="sitspan-rider-%d.zip"`, id))
	http.ServeContent(w, r, "", now(), f)
	return nil
}

// allMeasured refuses to hand out photos that nobody has looked at for a card's
// face yet.
func (d *Desk) allMeasured(r *http.Request, riderID int64) error {
	visits, err := d.store.Visits(r.Context(), riderID)
	if err != nil {
		return err
	}
	waiting, err := d.store.Unmeasured(r.Context())
	for _, s := range waiting {
		for _, v := range visits {
			if s.VisitID == v.ID {
				return &refusal{http.StatusConflict, d.say(r, "wait.measuring")}
			}
		}
	}
	return err
}

// plain gives a photo without its place and owner, made by a child. A file that
// no child can read has no picture to give.
func (d *Desk) plain(ctx context.Context, s store.Shot) ([]byte, string, error) {
	return d.bareOf(ctx, d.jobPhoto(ctx, s))
}

// bareOf is plain of any photo's file.
func (d *Desk) bareOf(ctx context.Context, p worker.Photo) ([]byte, string, error) {
	answer, err := d.queue.do(ctx, d.settings(ctx, store.SetUp{}),
		worker.Job{Sittings: one(p), Bare: true}, nil)
	if errors.Is(err, errBusy) || ctx.Err() != nil {
		return nil, "", errors.Join(err, ctx.Err())
	}
	if err != nil {
		d.logf("a photo gave no picture without its place and owner: %v", err)
		return nil, "", nil
	}
	return answer.Bare, answer.Extension, nil
}

func (d *Desk) deleteRider(w http.ResponseWriter, r *http.Request) error {
	id, err := idOf(r)
	if err != nil {
		return err
	}
	rider, err := d.store.Rider(r.Context(), id)
	if err != nil {
		return err
	}
	if !strings.EqualFold(strings.TrimSpace(r.PostFormValue("alias")), rider.Alias) {
		return &refusal{http.StatusUnprocessableEntity, d.say(r, "delete.alias", "alias", rider.Alias)}
	}
	e, err := d.store.Erase(r.Context(), id)
	if err != nil {
		return err
	}
	d.dropKept(now().Add(time.Second))
	return d.show(w, r, "message", frame{Title: d.say(r, "delete.done"),
		Data: d.say(r, "delete.counts", "visits", e.Visits, "records", e.Records, "photos", e.Photos, "sheets",
			e.Sheets)})
}
