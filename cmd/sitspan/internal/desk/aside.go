package desk

import (
	"errors"
	"fmt"
	"net/http"
	"slices"
	"time"

	"sitspan/cmd/sitspan/internal/record"
	"sitspan/cmd/sitspan/internal/store"
)

// riderRoutes are what is done with riders, and with single visits, photos and sheets of theirs.
func (d *Desk) riderRoutes(page func(string, func(http.ResponseWriter, *http.Request) error)) {
	page("POST /riders/{id}/rename", d.renameRider)
	page("GET /riders/{id}/merge", d.mergePage)
	page("POST /riders/{id}/merge", d.mergeRiders)
	page("POST /riders/{id}/empty", d.emptyBin)
	for path, kind := range asidePaths {
		page("POST /"+path+"/{id}/delete", d.putAside(kind))
		page("POST /"+path+"/{id}/undelete", d.takeBack(kind))
	}
}

// asidePaths are the routes of what can be deleted one by one.
var asidePaths = map[string]store.Kind{"visits": store.AVisit, "shots": store.AShot, "sheets": store.ASheet}

// asideLasts is how long what was deleted can be taken back.
const asideLasts = 7 * 24 * time.Hour

// putAside deletes one visit, photo or sheet, so that it can be taken back for a week. What counts is settled
// without it.
func (d *Desk) putAside(k store.Kind) func(http.ResponseWriter, *http.Request) error {
	return func(w http.ResponseWriter, r *http.Request) error {
		id, err := idOf(r)
		if err != nil {
			return err
		}
		of, err := d.store.OwnerOf(r.Context(), k, id)
		if err != nil {
			return err
		}
		err = d.store.PutAside(r.Context(), k, id)
		if err != nil && !errors.Is(err, store.ErrNotFound) { // a second click
			return err
		}
		if k == store.AShot {
			d.settle(r.Context(), of.VisitID)
		}
		d.purge()
		return redirect(w, r, asideBack(r, of, fmt.Sprintf("/riders/%d?deleted", of.RiderID)))
	}
}

// takeBack undoes putAside.
func (d *Desk) takeBack(k store.Kind) func(http.ResponseWriter, *http.Request) error {
	return func(w http.ResponseWriter, r *http.Request) error {
		id, err := idOf(r)
		if err != nil {
			return err
		}
		of, err := d.store.OwnerOf(r.Context(), k, id)
		if err != nil {
			return err
		}
		err = d.store.TakeBack(r.Context(), k, id)
		if err != nil && !errors.Is(err, store.ErrNotFound) { // a second click
			return err
		}
		if k == store.AShot {
			shot, err := d.store.Shot(r.Context(), id)
			if err != nil {
				return err
			}
			d.takeUp(shot)
			d.settle(r.Context(), of.VisitID)
		}
		return redirect(w, r, asideBack(r, of, fmt.Sprintf("/riders/%d?saved", of.RiderID)))
	}
}

// asideBack is where deleting, or taking back, leads: to the step that asked for it, else to the rider's
// page.
func asideBack(r *http.Request, of store.Owner, rider string) string {
	if step := r.PostFormValue("at"); slices.Contains([]string{"imprint", "sheet"}, step) {
		return fmt.Sprintf("/visits/%d/%s", of.VisitID, step)
	}
	return rider
}

// asidePath is the route of what can be deleted one by one.
func asidePath(k store.Kind) string {
	for path, kind := range asidePaths {
		if kind == k {
			return path
		}
	}
	return ""
}

// goneOf is what was deleted last of a kind in a visit, which its step offers to take back; nil for nothing.
func (d *Desk) goneOf(r *http.Request, v store.Visit, k store.Kind) (*store.Aside, error) {
	list, err := d.store.AsideOf(r.Context(), v.RiderID)
	for _, a := range list { // the latest first
		if a.Kind == k && a.VisitID == v.ID {
			return &a, nil
		}
	}
	return nil, err
}

// takeUp measures a photo that was put aside before it was measured.
func (d *Desk) takeUp(shot store.Shot) {
	records, err := d.store.Records(d.ctx, shot.VisitID)
	if err != nil {
		return
	}
	for _, k := range records {
		if k.ShotID == shot.ID {
			return
		}
	}
	d.measure(shot)
}

// purge deletes for good what was put aside a week ago.
func (d *Desk) purge() {
	if _, err := d.store.Purge(d.ctx, 0, now().Add(-asideLasts)); err != nil {
		d.logf("what was deleted a week ago is still there: %v", err)
	}
	d.dropKept(now().Add(-asideLasts))
}

// emptyBin deletes for good what was put aside of a rider.
func (d *Desk) emptyBin(w http.ResponseWriter, r *http.Request) error {
	id, err := idOf(r)
	if err != nil {
		return err
	}
	if _, err := d.store.Purge(r.Context(), id, now().Add(time.Second)); err != nil {
		return err
	}
	d.dropKept(now().Add(time.Second))
	return redirect(w, r, fmt.Sprintf("/riders/%d?saved", id))
}

// keptPhoto is a photo of a visit in a rider's history.
type keptPhoto struct {
	store.Shot
	Record int64 // whose small picture shows it; 0 for none
}

// keptOf are the photos and the sheets of a visit.
func (d *Desk) keptOf(r *http.Request, v store.Visit) (photos []keptPhoto, sheets []store.Sheet, err error) {
	shots, err := d.store.Shots(r.Context(), v.ID)
	if err != nil {
		return nil, nil, err
	}
	records, err := d.store.Records(r.Context(), v.ID)
	if err != nil {
		return nil, nil, err
	}
	for _, s := range shots {
		p := keptPhoto{Shot: s}
		for _, k := range records {
			if k.ShotID == s.ID && k.Record.Measurement.Status != record.Failed {
				p.Record = k.ID
			}
		}
		photos = append(photos, p)
	}
	sheets, err = d.store.Sheets(r.Context(), v.ID)
	return photos, sheets, err
}
