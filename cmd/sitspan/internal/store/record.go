package store

import (
	"context"
	"database/sql"
	"encoding/json"
	"time"

	"sitspan/cmd/sitspan/internal/record"
	"sitspan/cmd/sitspan/internal/words"
)

// The kinds of a record in the store.
const (
	OfPhoto    = "photo"    // of one photo
	OfTogether = "together" // of several photos of one imprint
	OfSittings = "sittings" // of repeated sittings
	ByHand     = "by hand"  // clicked on a photo without a frame
)

// The pictures that are kept with a record, as JPEG without EXIF.
const (
	Overlay = "overlay" // the photo with what was found, in English
	View    = "view"    // the upright photo alone
	Thumb   = "thumb"   // the same, small
)

// OverlayIn is the kind of the drawn picture in a language, by its code.
func OverlayIn(lang string) string {
	if lang == "en" {
		return Overlay
	}
	return Overlay + "-" + lang
}

// Kept is a record in the store, its reviews included.
type Kept struct {
	ID, VisitID int64
	ShotID      int64 // 0 where it is not of one photo
	Kind        string
	MadeAt      time.Time
	Record      record.Record
	LastReview  int64 // the number of the review that counts, 0 for none
	Renews      int64 // the record that this one is made in the place of, when it is added; 0 for none
}

// AddRecord keeps a record with its pictures, by their kind, and makes it the visit's current one where
// it has a spacing, or where there is none yet.
func (s *Store) AddRecord(ctx context.Context, k Kept, pictures map[string][]byte) (int64, error) {
	if err := k.Record.Check(); err != nil {
		return 0, words.Fault("error.store.record", words.Values{"why": err})
	}
	text, err := json.Marshal(k.Record)
	if err != nil {
		return 0, err
	}
	var id int64
	err = s.transact(ctx, func(tx *sql.Tx) error {
		r, err := tx.Exec("INSERT INTO records (visit_id, shot_id, kind, made_at, json) VALUES (?, nullif(?, 0), "+
			"?, ?, ?)", k.VisitID, k.ShotID, k.Kind, stamp(), string(text))
		if err != nil {
			return err
		}
		if id, err = r.LastInsertId(); err != nil {
			return err
		}
		for kind, jpeg := range pictures {
			if _, err := tx.Exec("INSERT INTO pictures (record_id, kind, jpeg) VALUES (?, ?, ?)", id, kind,
				jpeg); err != nil {
				return err
			}
		}
		return makeCurrent(tx, k, id)
	})
	return id, err
}

// makeCurrent lets the newest number count, but a single photo's never over a joint one's, nor over one
// that a person has looked at. What renews a record counts in its place.
func makeCurrent(tx *sql.Tx, k Kept, id int64) error {
	m, _ := k.Record.Current()
	only := ""
	switch {
	case k.Renews != 0:
		_, err := tx.Exec("UPDATE visits SET current_record = ?1 WHERE id = ?2 AND current_record = ?3", id,
			k.VisitID, k.Renews)
		return err
	case m.Spacing == nil:
		only = " AND current_record IS NULL"
	case k.Kind == OfPhoto:
		only = " AND NOT EXISTS (SELECT 1 FROM records r WHERE r.id = current_record AND r.kind IN ('together', " +
			"'sittings'))" +
			" AND NOT EXISTS (SELECT 1 FROM reviews w WHERE w.record_id = current_record AND w.withdrawn_at = 0)"
	}
	_, err := tx.Exec("UPDATE visits SET current_record = ? WHERE id = ?"+only, id, k.VisitID)
	return err
}

// inSight leaves out the records of photos and visits that were put aside.
const inSight = "NOT EXISTS (SELECT 1 FROM shots s WHERE s.id = shot_id AND s.aside_at > 0) AND " +
	"EXISTS (SELECT 1 FROM visits v WHERE v.id = visit_id AND v.aside_at = 0) AND "

const recordColumns = "SELECT id, visit_id, coalesce(shot_id, 0), kind, made_at, json FROM records WHERE " +
	inSight

func scanRecord(row interface{ Scan(...any) error }) (k Kept, err error) {
	var made int64
	var text string
	if err := row.Scan(&k.ID, &k.VisitID, &k.ShotID, &k.Kind, &made, &text); err != nil {
		return k, explain(err)
	}
	k.MadeAt = fromStamp(made)
	if k.Record, err = record.Parse([]byte(text)); err != nil {
		return k, words.Fault("error.store.record_n", words.Values{"n": k.ID, "why": err})
	}
	return k, nil
}

// Record gives one record with its reviews.
func (s *Store) Record(ctx context.Context, id int64) (Kept, error) {
	k, err := scanRecord(s.db.QueryRowContext(ctx, recordColumns+"id = ?", id))
	if err == nil {
		err = s.addReviews(ctx, &k)
	}
	return k, err
}

// Records gives a visit's records in the order in which they were made.
func (s *Store) Records(ctx context.Context, visitID int64) ([]Kept, error) {
	return list(ctx, s.db, func(rows *sql.Rows) (Kept, error) { return scanRecord(rows) },
		func(k *Kept) error { return s.addReviews(ctx, k) }, recordColumns+"visit_id = ? ORDER BY id", visitID)
}

// Picture gives a record's picture as JPEG.
func (s *Store) Picture(ctx context.Context, recordID int64, kind string) ([]byte, error) {
	var jpeg []byte
	err := s.db.QueryRowContext(ctx, "SELECT jpeg FROM pictures JOIN records ON records.id = record_id WHERE "+
		inSight+"record_id = ? AND pictures.kind = ?", recordID, kind).Scan(&jpeg)
	return jpeg, explain(err)
}

// LatestRecord gives the record that was made last; ErrNotFound where there is none.
func (s *Store) LatestRecord(ctx context.Context) (Kept, error) {
	return scanRecord(s.db.QueryRowContext(ctx, recordColumns+"1 ORDER BY id DESC LIMIT 1"))
}
