package store

import (
	"context"
	"database/sql"
	"encoding/json"
	"errors"
	"slices"
	"strings"
	"time"

	"sitspan/cmd/sitspan/internal/words"
)

// Rider is a person under an alias; nothing else of them is kept.
type Rider struct {
	ID     int64
	Alias  string
	MadeAt time.Time
}

// Posture is how a rider sits on a bike: a trunk angle, or an allowance, and
// where it comes from.
type Posture struct {
	TrunkDeg    *float64    `json:"trunk_deg,omitempty"`
	TrunkU      float64     `json:"trunk_u_deg,omitempty"` // standard uncertainty
	AllowanceMM *float64    `json:"allowance_mm,omitempty"`
	Basis       string      `json:"basis,omitempty"` // typed, or side photo
	Points      [][]float64 `json:"points,omitempty"`
}

// Bike is one bike of a visit.
type Bike struct {
	Name, Use string
	Posture   Posture
	Saddle    Saddle
	Place     int // among the visit's bikes as it was read, from 1; 0 for one that is new there
}

// SetUp is how a visit's imprint is measured.
type SetUp struct {
	Medium  string    `json:"medium,omitempty"` // empty: found out
	Pad     string    `json:"pad,omitempty"`
	DepthMM []float64 `json:"depth_mm,omitempty"` // by a gauge: none, one, or left and right
}

// Visit is one day of a rider in the shop.
type Visit struct {
	ID, RiderID int64
	Alias       string
	MadeAt      time.Time
	MassKg      float64 // 0 where it is not known
	Complaints  []string
	Note        string
	Bikes       []Bike
	SetUp       SetUp
	Sitting     int   // the sitting that photos join now, from 1
	Current     int64 // the record that counts, 0 for none
	Version     int   // how often it was saved, from 1
}

// NewVisit opens a visit, and the rider with it where the alias is new.
func (s *Store) NewVisit(ctx context.Context, alias string) (Visit, error) {
	alias = oneLine(alias)
	if alias == "" {
		return Visit{}, words.Fault("error.store.alias", nil)
	}
	return s.newVisit(ctx, func(tx *sql.Tx) (rider int64, err error) {
		if _, err = tx.Exec("INSERT INTO riders (alias, made_at) VALUES (?, ?) ON CONFLICT DO NOTHING", alias,
			stamp()); err != nil {
			return 0, err
		}
		err = tx.QueryRow("SELECT id FROM riders WHERE alias = ?", alias).Scan(&rider)
		return rider, err
	})
}

// NewVisitOf opens a visit of a rider who is known.
func (s *Store) NewVisitOf(ctx context.Context, riderID int64) (Visit, error) {
	return s.newVisit(ctx, func(*sql.Tx) (int64, error) { return riderID, nil })
}

func (s *Store) newVisit(ctx context.Context, rider func(*sql.Tx) (int64, error)) (Visit, error) {
	var id int64
	err := s.transact(ctx, func(tx *sql.Tx) error {
		of, err := rider(tx)
		if err != nil {
			return err
		}
		r, err := tx.Exec("INSERT INTO visits (rider_id, made_at) SELECT id, ? FROM riders WHERE id = ?", stamp(),
			of)
		if err := oneRow(r, err); err != nil {
			return err
		}
		if id, err = r.LastInsertId(); err != nil {
			return err
		}
		return beginFromLast(tx, id)
	})
	if err != nil {
		return Visit{}, err
	}
	return s.Visit(ctx, id)
}

// oneLine is a text with simple blanks between its words.
func oneLine(text string) string { return strings.Join(strings.Fields(text), " ") }

const visitColumns = `v.id, v.rider_id, r.alias, v.made_at, v.mass_kg, v.complaints, v.note, v.setup,
  v.sitting, coalesce(v.current_record, 0), v.version
	FROM visits v JOIN riders r ON r.id = v.rider_id WHERE v.aside_at = 0 AND `

func scanVisit(row interface{ Scan(...any) error }) (v Visit, err error) {
	var made int64
	var complaints, setup string
	if err := row.Scan(&v.ID, &v.RiderID, &v.Alias, &made, &v.MassKg, &complaints, &v.Note, &setup, &v.Sitting,
		&v.Current, &v.Version); err != nil {
		return v, explain(err)
	}
	v.MadeAt = fromStamp(made)
	return v, errors.Join(json.Unmarshal([]byte(complaints), &v.Complaints),
		json.Unmarshal([]byte(setup), &v.SetUp))
}

// Visit gives one visit with its bikes.
func (s *Store) Visit(ctx context.Context, id int64) (Visit, error) {
	v, err := scanVisit(s.db.QueryRowContext(ctx, "SELECT "+visitColumns+"v.id = ?", id))
	if err == nil {
		v.Bikes, err = s.bikes(ctx, id)
	}
	return v, err
}

// Visits gives a rider's visits, the latest first.
func (s *Store) Visits(ctx context.Context, riderID int64) ([]Visit, error) {
	return list(ctx, s.db, func(rows *sql.Rows) (v Visit, err error) {
		return scanVisit(rows)
	}, func(v *Visit) (err error) {
		v.Bikes, err = s.bikes(ctx, v.ID)
		return err
	}, "SELECT "+visitColumns+"v.rider_id = ? ORDER BY v.made_at DESC, v.id DESC", riderID)
}

// list reads rows, and then completes each.
func list[T any](ctx context.Context, db *sql.DB, scan func(*sql.Rows) (T, error), complete func(*T) error,
	query string, args ...any) ([]T, error) {
	rows, err := db.QueryContext(ctx, query, args...)
	if err != nil {
		return nil, explain(err)
	}
	defer rows.Close()
	var out []T
	for rows.Next() {
		v, err := scan(rows)
		if err != nil {
			return nil, explain(err)
		}
		out = append(out, v)
	}
	if err := rows.Err(); err != nil {
		return nil, explain(err)
	}
	rows.Close()
	if complete == nil {
		return out, nil
	}
	for i := range out {
		if err := complete(&out[i]); err != nil {
			return nil, err
		}
	}
	return out, nil
}

func (s *Store) bikes(ctx context.Context, visitID int64) ([]Bike, error) {
	return list(ctx, s.db, func(rows *sql.Rows) (b Bike, err error) {
		var posture, saddle string
		if err = rows.Scan(&b.Name, &b.Use, &posture, &saddle, &b.Place); err == nil {
			err = errors.Join(json.Unmarshal([]byte(posture), &b.Posture), json.Unmarshal([]byte(saddle), &b.Saddle))
		}
		return b, err
	}, nil, "SELECT name, bike_use, posture, saddle, position + 1 FROM bikes WHERE visit_id = ? ORDER BY "+
		"position", visitID)
}

// SaveVisit keeps what the fitter says of the rider and the bikes. Photos, records, the set-up, and which
// saddle was taken have their own calls. It is ErrChanged where somebody saved the visit since v was read.
func (s *Store) SaveVisit(ctx context.Context, v Visit) error {
	complaints, err := json.Marshal(append([]string{}, v.Complaints...))
	if err != nil {
		return err
	}
	return s.transact(ctx, func(tx *sql.Tx) error {
		var version int
		if err := tx.QueryRow("SELECT version FROM visits WHERE id = ?", v.ID).Scan(&version); err != nil {
			return err
		}
		if version != v.Version {
			return ErrChanged
		}
		r, err := tx.Exec("UPDATE visits SET mass_kg = ?, complaints = ?, note = ?, version = version + 1 WHERE "+
			"id = ?",
			v.MassKg, string(complaints), v.Note, v.ID)
		if err := oneRow(r, err); err != nil {
			return err
		}
		return saveBikes(tx, v.ID, v.Bikes)
	})
}

// SaveSetUp keeps how a visit's imprint is measured. It is ErrChanged where that is no longer what was.
func (s *Store) SaveSetUp(ctx context.Context, visitID int64, was, set SetUp) error {
	text, err := json.Marshal(set)
	if err != nil {
		return err
	}
	return s.transact(ctx, func(tx *sql.Tx) error {
		var kept string
		if err := tx.QueryRow("SELECT setup FROM visits WHERE id = ?", visitID).Scan(&kept); err != nil {
			return err
		}
		var now SetUp
		if err := json.Unmarshal([]byte(kept), &now); err != nil {
			return err
		}
		if !now.Same(was) {
			return ErrChanged
		}
		return oneRow(tx.Exec("UPDATE visits SET setup = ? WHERE id = ?", string(text), visitID))
	})
}

// Same says whether two set-ups measure alike.
func (s SetUp) Same(o SetUp) bool {
	return s.Medium == o.Medium && s.Pad == o.Pad && slices.Equal(s.DepthMM, o.DepthMM)
}

// NextSitting makes the photos from now on a further sitting of the same rider.
func (s *Store) NextSitting(ctx context.Context, visitID int64) error {
	return explain(oneRow(s.db.ExecContext(ctx, "UPDATE visits SET sitting = sitting + 1 WHERE id = ?",
		visitID)))
}

// SetCurrent says which of a visit's records counts; 0 for none.
func (s *Store) SetCurrent(ctx context.Context, visitID, recordID int64) error {
	if recordID == 0 {
		return explain(oneRow(s.db.ExecContext(ctx, "UPDATE visits SET current_record = NULL WHERE id = ?",
			visitID)))
	}
	return explain(oneRow(s.db.ExecContext(ctx,
		"UPDATE visits SET current_record = ?2 WHERE id = ?1 AND EXISTS (SELECT 1 FROM records WHERE id = ?2 AND "+
			"visit_id = ?1)", visitID, recordID)))
}

// oneRow is ErrNotFound where no row was changed.
func oneRow(r sql.Result, err error) error {
	if err != nil {
		return err
	}
	if n, err := r.RowsAffected(); err != nil || n != 1 {
		return errors.Join(err, ErrNotFound)
	}
	return nil
}
