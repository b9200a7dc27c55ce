package store

import (
	"context"
	"database/sql"
	"encoding/json"
	"errors"
	"fmt"
)

// Saddle is what is said of the saddles on a bike.
type Saddle struct {
	Ridden string `json:"ridden,omitempty"`    // the one so far, as the rider names it
	Rode   string `json:"rode,omitempty"`      // and how it rode
	Taken  *Taken `json:"taken,omitempty"`     // the one that the rider takes
	Test   string `json:"ride_test,omitempty"` // what a ride on it said
}

// Taken is the saddle that a rider takes.
type Taken struct {
	Name    string  `json:"name"`
	WidthMM float64 `json:"width_mm"`
}

// String is the saddle as people name it.
func (t Taken) String() string { return fmt.Sprintf("%s, %g mm", t.Name, t.WidthMM) }

// Named is the saddle that is taken as people name it; empty for none.
func (s Saddle) Named() string { return named(s.Taken) }

func named(t *Taken) string {
	if t == nil {
		return ""
	}
	return t.String()
}

// TakeSaddle keeps which saddle the rider takes for a bike of a visit; nil for none. seen is the one that the
// person saw taken, by its name; where another is taken now it is ErrChanged.
func (s *Store) TakeSaddle(ctx context.Context, visitID int64, place int, seen string, taken *Taken) error {
	return s.changeSaddle(ctx, visitID, place, func(sad *Saddle) error {
		if sad.Named() != seen && sad.Named() != named(taken) {
			return ErrChanged
		}
		sad.Taken = taken
		return nil
	})
}

// KeepRideTest keeps what a ride said of the saddle that was taken. seen is what the person saw there; where
// something else is there now it is ErrChanged.
func (s *Store) KeepRideTest(ctx context.Context, visitID int64, place int, seen, said string) error {
	return s.changeSaddle(ctx, visitID, place, func(sad *Saddle) error {
		if sad.Test != seen && sad.Test != said {
			return ErrChanged
		}
		sad.Test = said
		return nil
	})
}

func (s *Store) changeSaddle(ctx context.Context, visitID int64, place int,
	change func(*Saddle) error) error {
	return s.transact(ctx, func(tx *sql.Tx) error {
		sad, err := saddleOf(tx, visitID, place)
		if err != nil {
			return err
		}
		if err := change(&sad); err != nil {
			return err
		}
		text, err := json.Marshal(sad)
		if err != nil {
			return err
		}
		return oneRow(tx.Exec("UPDATE bikes SET saddle = ? WHERE visit_id = ? AND position = ?", string(text),
			visitID, place-1))
	})
}

// saddleOf is what is said of the saddles on the bike at a place, from 1.
func saddleOf(tx *sql.Tx, visitID int64, place int) (s Saddle, err error) {
	var text string
	err = tx.QueryRow("SELECT saddle FROM bikes WHERE visit_id = ? AND position = ?", visitID,
		place-1).Scan(&text)
	if errors.Is(err, sql.ErrNoRows) {
		return s, ErrNotFound
	}
	if err == nil {
		err = json.Unmarshal([]byte(text), &s)
	}
	return s, err
}

// saveBikes puts bikes in the place of a visit's. Which saddle was taken, and what the ride said, stay with
// their bike.
func saveBikes(tx *sql.Tx, visitID int64, bikes []Bike) error {
	kept := make([]Saddle, len(bikes))
	for i, b := range bikes {
		kept[i] = b.Saddle
		if b.Place == 0 {
			continue
		}
		was, err := saddleOf(tx, visitID, b.Place)
		if err != nil && !errors.Is(err, ErrNotFound) {
			return err
		}
		kept[i].Taken, kept[i].Test = was.Taken, was.Test
	}
	if _, err := tx.Exec("DELETE FROM bikes WHERE visit_id = ?", visitID); err != nil {
		return err
	}
	for i, b := range bikes {
		posture, err := json.Marshal(b.Posture)
		if err != nil {
			return err
		}
		saddle, err := json.Marshal(kept[i])
		if err != nil {
			return err
		}
		if _, err := tx.Exec("INSERT INTO bikes (visit_id, position, name, bike_use, posture, saddle) VALUES "+
			"(?, ?, ?, ?, ?, ?)", visitID, i, b.Name, b.Use, string(posture), string(saddle)); err != nil {
			return err
		}
	}
	return nil
}

// beginFromLast lets a visit begin with what the rider's last one ended with: mass, complaints and bikes.
// The saddle that was taken then is the one ridden so far; how it rode is what the ride test said.
func beginFromLast(tx *sql.Tx, visitID int64) error {
	var last int64
	err := tx.QueryRow(`SELECT o.id FROM visits o JOIN visits v ON v.rider_id = o.rider_id
		WHERE v.id = ? AND o.id < v.id ORDER BY o.id DESC LIMIT 1`, visitID).Scan(&last)
	if errors.Is(err, sql.ErrNoRows) {
		return nil
	}
	if err != nil {
		return err
	}
	if _, err := tx.Exec(`UPDATE visits SET (mass_kg, complaints) = (SELECT mass_kg, complaints FROM visits
		WHERE id = ?) WHERE id = ?`, last, visitID); err != nil {
		return err
	}
	if _, err := tx.Exec(`INSERT INTO bikes (visit_id, position, name, bike_use, posture, saddle)
		SELECT ?, position, name, bike_use, posture, saddle FROM bikes WHERE visit_id = ?`, visitID,
		last); err != nil {
		return err
	}
	return startSaddles(tx, visitID)
}

// startSaddles makes of each saddle that was taken the one ridden so far.
func startSaddles(tx *sql.Tx, visitID int64) error {
	var n int
	if err := tx.QueryRow("SELECT count(*) FROM bikes WHERE visit_id = ?", visitID).Scan(&n); err != nil {
		return err
	}
	for i := range n {
		s, err := saddleOf(tx, visitID, i+1)
		if err != nil {
			return err
		}
		if s.Taken != nil {
			s = Saddle{Ridden: s.Taken.String(), Rode: s.Test}
		}
		text, err := json.Marshal(s)
		if err != nil {
			return err
		}
		if _, err := tx.Exec("UPDATE bikes SET saddle = ? WHERE visit_id = ? AND position = ?", string(text),
			visitID, i); err != nil {
			return err
		}
	}
	return nil
}
