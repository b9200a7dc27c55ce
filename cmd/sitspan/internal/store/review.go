package store

import (
	"context"
	"database/sql"
	"encoding/json"
	"strings"

	"sitspan/cmd/sitspan/internal/record"
	"sitspan/cmd/sitspan/internal/words"
)

// addReviews gives a record its reviews, but those that were taken back.
func (s *Store) addReviews(ctx context.Context, k *Kept) error {
	reviews, err := list(ctx, s.db, func(rows *sql.Rows) (r record.Revision, err error) {
		var text string
		if err = rows.Scan(&k.LastReview, &text); err == nil {
			err = json.Unmarshal([]byte(text), &r)
		}
		return r, err
	}, nil, "SELECT id, json FROM reviews WHERE record_id = ? AND withdrawn_at = 0 ORDER BY id", k.ID)
	k.Record.Reviews = append(k.Record.Reviews, reviews...)
	return err
}

// AddReview keeps a reviewer's measurement beside a record's own. seen is the LastReview that the
// reviewer saw; where another counts now it is ErrChanged.
func (s *Store) AddReview(ctx context.Context, recordID, seen int64, r record.Revision) error {
	if strings.TrimSpace(r.Reviewer) == "" {
		return words.Fault("error.store.reviewer", nil)
	}
	if err := r.Measurement.Check(); err != nil {
		return words.Fault("error.store.review", words.Values{"why": err})
	}
	text, err := json.Marshal(r)
	if err != nil {
		return err
	}
	return s.transact(ctx, func(tx *sql.Tx) error {
		if err := lastReviewIs(tx, recordID, seen); err != nil {
			return err
		}
		added, err := tx.Exec("INSERT INTO reviews (record_id, made_at, json) SELECT id, ?, ? FROM records WHERE "+
			"id = ?",
			stamp(), string(text), recordID)
		if err := oneRow(added, err); err != nil {
			return err
		}
		_, err = tx.Exec("UPDATE visits SET current_record = ?1 WHERE id = (SELECT visit_id FROM records WHERE "+
			"id = ?1)", recordID)
		return err
	})
}

// WithdrawReview takes a record's last review back: it is kept, and counts no more. What counted before
// counts again.
func (s *Store) WithdrawReview(ctx context.Context, recordID, seen int64) error {
	return s.transact(ctx, func(tx *sql.Tx) error {
		if err := lastReviewIs(tx, recordID, seen); err != nil {
			return err
		}
		return oneRow(tx.Exec("UPDATE reviews SET withdrawn_at = ? WHERE id = ? AND withdrawn_at = 0", stamp(),
			seen))
	})
}

func lastReviewIs(tx *sql.Tx, recordID, seen int64) error {
	var last int64
	err := tx.QueryRow("SELECT coalesce(max(id), 0) FROM reviews WHERE record_id = ? AND withdrawn_at = 0",
		recordID).Scan(&last)
	if err != nil {
		return err
	}
	if last != seen {
		return ErrChanged
	}
	return nil
}
