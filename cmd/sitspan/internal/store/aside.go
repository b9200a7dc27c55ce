package store

import (
	"context"
	"database/sql"
	"time"
)

// Kind is what can be put aside: deleted, with a way back.
type Kind string

// The kinds.
const (
	AVisit Kind = "visit"
	AShot  Kind = "photo"
	ASheet Kind = "sheet"
)

// tables are where they are kept.
var tables = map[Kind]string{AVisit: "visits", AShot: "shots", ASheet: "sheets"}

// Owner is the visit and the rider that something belongs to.
type Owner struct{ VisitID, RiderID int64 }

// OwnerOf is whose something is, whether it was put aside or not.
func (s *Store) OwnerOf(ctx context.Context, k Kind, id int64) (o Owner, err error) {
	of := "t.visit_id"
	if k == AVisit {
		of = "t.id"
	}
	err = s.db.QueryRowContext(ctx, "SELECT v.id, v.rider_id FROM "+tables[k]+" t JOIN visits v ON v.id = "+of+
		" WHERE t.id = ?", id).Scan(&o.VisitID, &o.RiderID)
	return o, explain(err)
}

// PutAside takes something out of sight: it counts nowhere, and can be taken back until it is purged.
func (s *Store) PutAside(ctx context.Context, k Kind, id int64) error {
	counted := ""
	if k == AShot {
		counted = ", counted = coalesce((SELECT current_record FROM visits v WHERE v.id = visit_id), 0)"
	}
	return explain(oneRow(s.db.ExecContext(ctx,
		"UPDATE "+tables[k]+" SET aside_at = ?"+counted+" WHERE id = ? AND aside_at = 0",
		stamp(), id)))
}

// countAgain lets that record count which did when a photo was put aside, where it is still there and nobody
// has looked at another one since.
const countAgain = `UPDATE visits SET current_record = s.counted FROM shots s
	WHERE s.id = ? AND s.aside_at > 0 AND visits.id = s.visit_id
	AND EXISTS (SELECT 1 FROM records r WHERE r.id = s.counted)
	AND NOT EXISTS (SELECT 1 FROM reviews w WHERE w.record_id = current_record AND w.withdrawn_at = 0
		AND w.made_at >= s.aside_at)`

// TakeBack undoes PutAside.
func (s *Store) TakeBack(ctx context.Context, k Kind, id int64) error {
	return s.transact(ctx, func(tx *sql.Tx) error {
		if k == AShot {
			if _, err := tx.Exec(countAgain, id); err != nil {
				return err
			}
		}
		return oneRow(tx.Exec("UPDATE "+tables[k]+" SET aside_at = 0 WHERE id = ? AND aside_at > 0", id))
	})
}

// Aside is one thing that was put aside.
type Aside struct {
	Kind    Kind
	ID      int64
	VisitID int64
	MadeAt  time.Time // the visit, the photo or the sheet itself
	At      time.Time // when it was put aside
	Name    string    // of a photo's file; empty for others
}

// AsideOf are the things of a rider that were put aside, the latest first.
func (s *Store) AsideOf(ctx context.Context, riderID int64) ([]Aside, error) {
	return list(ctx, s.db, func(rows *sql.Rows) (a Aside, err error) {
		var made, at int64
		err = rows.Scan(&a.Kind, &a.ID, &a.VisitID, &made, &at, &a.Name)
		a.MadeAt, a.At = fromStamp(made), fromStamp(at)
		return a, err
	}, nil, `SELECT 'visit', id, id, made_at, aside_at, '' FROM visits WHERE rider_id = ?1 AND aside_at > 0
		UNION ALL SELECT 'photo', s.id, v.id, s.received_at, s.aside_at, s.name
			FROM shots s JOIN visits v ON v.id = s.visit_id WHERE v.rider_id = ?1 AND s.aside_at > 0 AND v.aside_at = 0
		UNION ALL SELECT 'sheet', h.id, v.id, h.made_at, h.aside_at, ''
			FROM sheets h JOIN visits v ON v.id = h.visit_id
			WHERE v.rider_id = ?1 AND h.aside_at > 0 AND v.aside_at = 0
		ORDER BY 5 DESC, 2 DESC`, riderID)
}

// joinedOfAside are the joint records that were made from photos which go: their pictures show them.
const joinedOfAside = `DELETE FROM records WHERE shot_id IS NULL AND EXISTS (
	SELECT 1 FROM shots s JOIN visits v ON v.id = s.visit_id
	WHERE s.visit_id = records.visit_id AND s.aside_at > 0 AND s.aside_at < ?1 AND ?2 IN (0, v.rider_id)
		AND (instr(records.json, s.original) > 0 OR instr(records.json, s.sha256) > 0))`

// Purge deletes for good what was put aside before a moment, of one rider, or of all with 0. The freed pages
// are overwritten, as Erase does.
func (s *Store) Purge(ctx context.Context, riderID int64, before time.Time) (gone int, err error) {
	release, err := s.holdFiles()
	if err != nil {
		return 0, err
	}
	defer release()
	var names []string
	err = s.transact(ctx, func(tx *sql.Tx) error {
		const of = " WHERE aside_at > 0 AND aside_at < ?1 AND "
		const ofVisits = "visit_id IN (SELECT id FROM visits WHERE ?2 IN (0, rider_id))"
		if _, err := tx.Exec(joinedOfAside, before.UnixMilli(), riderID); err != nil {
			return err
		}
		for _, query := range []string{
			"DELETE FROM sheets" + of + ofVisits, "DELETE FROM shots" + of + ofVisits,
			"DELETE FROM visits" + of + "?2 IN (0, rider_id)",
		} {
			r, err := tx.Exec(query, before.UnixMilli(), riderID)
			if err != nil {
				return err
			}
			n, err := r.RowsAffected()
			if err != nil {
				return err
			}
			gone += int(n)
		}
		var err error
		names, err = orphans(tx)
		return err
	})
	if err != nil || gone == 0 {
		return 0, err
	}
	if err := s.removePhotos(names); err != nil {
		return gone, err
	}
	return gone, s.vacuum(ctx)
}
