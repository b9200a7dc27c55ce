package store

import (
	"context"
	"database/sql"
	"errors"
	"time"

	"github.com/mattn/go-sqlite3"

	"sitspan/cmd/sitspan/internal/words"
)

// RiderLine is a rider in the list of riders.
type RiderLine struct {
	Rider
	Visits    int
	LastVisit time.Time
	LastID    int64 // the latest visit
}

// Rider gives one rider.
func (s *Store) Rider(ctx context.Context, id int64) (r Rider, err error) {
	var made int64
	err = s.db.QueryRowContext(ctx, "SELECT id, alias, made_at FROM riders WHERE id = ?", id).Scan(&r.ID,
		&r.Alias, &made)
	r.MadeAt = fromStamp(made)
	return r, explain(err)
}

// Riders gives at most limit riders whose alias, a note or a bike's name or use
// holds the text, the latest visit first. Case, accents and umlauts make no
// difference. An empty text finds all.
func (s *Store) Riders(ctx context.Context, text string, limit int) ([]RiderLine, error) {
	return s.riders(ctx, `holds(r.alias, ?1) OR EXISTS (
			SELECT 1 FROM visits w LEFT JOIN bikes b ON b.visit_id = w.id
			WHERE w.rider_id = r.id AND w.aside_at = 0 AND
				(holds(w.note, ?1) OR holds(b.name, ?1) OR holds(b.bike_use, ?1)))`, text, limit)
}

// Namesakes are the riders who may be meant by an alias: whose own differs by case, accents, umlauts and
// blanks at the most.
func (s *Store) Namesakes(ctx context.Context, alias string) ([]RiderLine, error) {
	const most = 20
	return s.riders(ctx, "alike(r.alias, ?1)", oneLine(alias), most)
}

func (s *Store) riders(ctx context.Context, where, text string, limit int) ([]RiderLine, error) {
	return list(ctx, s.db, func(rows *sql.Rows) (l RiderLine, err error) {
		var made, last int64
		err = rows.Scan(&l.ID, &l.Alias, &made, &l.Visits, &last, &l.LastID)
		l.MadeAt, l.LastVisit = fromStamp(made), fromStamp(last)
		return l, err
	}, nil, `SELECT r.id, r.alias, r.made_at, count(v.id), coalesce(max(v.made_at), r.made_at),
			coalesce(max(v.id), 0)
		FROM riders r LEFT JOIN visits v ON v.rider_id = r.id AND v.aside_at = 0
		WHERE `+where+`
		GROUP BY r.id ORDER BY max(v.made_at) DESC, r.id DESC LIMIT ?2`, text, limit)
}

// ErrTaken is the error of an alias that another rider has.
var ErrTaken = words.Fault("error.store.taken", nil)

// Rename gives a rider another alias.
func (s *Store) Rename(ctx context.Context, riderID int64, alias string) error {
	err := oneRow(s.db.ExecContext(ctx, "UPDATE riders SET alias = ? WHERE id = ?", oneLine(alias), riderID))
	var lite sqlite3.Error
	if errors.As(err, &lite) && lite.ExtendedCode == sqlite3.ErrConstraintUnique {
		return ErrTaken
	}
	return explain(err)
}

// Merge makes all visits of one rider those of another, and the first rider goes.
func (s *Store) Merge(ctx context.Context, from, into int64) error {
	if from == into {
		return ErrNotFound
	}
	return s.transact(ctx, func(tx *sql.Tx) error {
		var there int
		err := tx.QueryRow("SELECT count(*) FROM riders WHERE id IN (?, ?)", from, into).Scan(&there)
		if err == nil && there != 2 {
			err = ErrNotFound
		}
		if err != nil {
			return err
		}
		if _, err := tx.Exec("UPDATE visits SET rider_id = ? WHERE rider_id = ?", into, from); err != nil {
			return err
		}
		return oneRow(tx.Exec("DELETE FROM riders WHERE id = ?", from))
	})
}

// Erased counts what went with a rider.
type Erased struct{ Visits, Records, Photos, Sheets int }

// Erase deletes a rider for good: visits, records, reviews, sheets, and the
// photos that no other rider has. The database's free pages are given back and
// its log is emptied, so that nothing of the rider stays in the files.
func (s *Store) Erase(ctx context.Context, riderID int64) (Erased, error) {
	release, err := s.holdFiles()
	if err != nil {
		return Erased{}, err
	}
	defer release()
	var e Erased
	var names []string
	err = s.transact(ctx, func(tx *sql.Tx) error {
		const of = " WHERE visit_id IN (SELECT id FROM visits WHERE rider_id = ?)"
		for query, to := range map[string]*int{
			"SELECT count(*) FROM visits WHERE rider_id = ?": &e.Visits,
			"SELECT count(*) FROM records" + of:              &e.Records,
			"SELECT count(*) FROM sheets" + of:               &e.Sheets,
		} {
			if err := tx.QueryRow(query, riderID).Scan(to); err != nil {
				return err
			}
		}
		if err := oneRow(tx.Exec("DELETE FROM riders WHERE id = ?", riderID)); err != nil {
			return err
		}
		var err error
		names, err = orphans(tx)
		return err
	})
	if err != nil {
		return Erased{}, err
	}
	e.Photos = len(names)
	if err := s.removePhotos(names); err != nil {
		return e, err
	}
	return e, s.vacuum(ctx)
}

// orphans takes the rows of photos that no shot has, and names their files.
func orphans(tx *sql.Tx) ([]string, error) {
	rows, err := tx.Query(`DELETE FROM photos WHERE sha256 NOT IN (
		SELECT sha256 FROM shots UNION SELECT sha256 FROM check_photos) RETURNING sha256 || extension`)
	if err != nil {
		return nil, err
	}
	defer rows.Close()
	var names []string
	for rows.Next() {
		var name string
		if err := rows.Scan(&name); err != nil {
			return nil, err
		}
		names = append(names, name)
	}
	return names, rows.Err()
}

// vacuum rewrites the file without free pages and empties the log.
func (s *Store) vacuum(ctx context.Context) error {
	if _, err := s.db.ExecContext(ctx, "VACUUM"); err != nil {
		return explain(err)
	}
	_, err := s.db.ExecContext(ctx, "PRAGMA wal_checkpoint(TRUNCATE)")
	return explain(err)
}
