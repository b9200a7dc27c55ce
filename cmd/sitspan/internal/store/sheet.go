package store

import (
	"context"
	"database/sql"
	"encoding/json"
	"time"

	"sitspan/cmd/sitspan/internal/record"
	"sitspan/cmd/sitspan/internal/words"
)

// Sheet is a rider's sheet as it was made.
type Sheet struct {
	ID, VisitID, RecordID int64
	MadeAt                time.Time
	Lang                  string
	Record                record.Record // as it was printed
}

// AddSheet keeps a sheet with the record as it was printed.
func (s *Store) AddSheet(ctx context.Context, sh Sheet, rec record.Record, pdf []byte) (int64, error) {
	text, err := json.Marshal(rec)
	if err != nil {
		return 0, err
	}
	r, err := s.db.ExecContext(ctx, "INSERT INTO sheets (visit_id, record_id, made_at, lang, json, pdf) "+
		"VALUES (?, ?, ?, ?, ?, ?)",
		sh.VisitID, sh.RecordID, stamp(), sh.Lang, string(text), pdf)
	if err != nil {
		return 0, explain(err)
	}
	return r.LastInsertId()
}

const sheetColumns = "SELECT id, visit_id, record_id, made_at, lang, json FROM sheets WHERE aside_at = 0 AND "

func scanSheet(row interface{ Scan(...any) error }) (sh Sheet, err error) {
	var made int64
	var text string
	if err := row.Scan(&sh.ID, &sh.VisitID, &sh.RecordID, &made, &sh.Lang, &text); err != nil {
		return sh, explain(err)
	}
	sh.MadeAt = fromStamp(made)
	if sh.Record, err = record.Parse([]byte(text)); err != nil {
		return sh, words.Fault("error.store.sheet", words.Values{"n": sh.ID, "why": err})
	}
	return sh, nil
}

// Sheet gives one sheet.
func (s *Store) Sheet(ctx context.Context, id int64) (Sheet, error) {
	return scanSheet(s.db.QueryRowContext(ctx, sheetColumns+"id = ?", id))
}

// Sheets gives a visit's sheets, the latest first.
func (s *Store) Sheets(ctx context.Context, visitID int64) ([]Sheet, error) {
	return list(ctx, s.db, func(rows *sql.Rows) (Sheet, error) { return scanSheet(rows) }, nil,
		sheetColumns+"visit_id = ? ORDER BY id DESC", visitID)
}

// SheetPDF gives a sheet's file.
func (s *Store) SheetPDF(ctx context.Context, id int64) ([]byte, error) {
	var pdf []byte
	err := s.db.QueryRowContext(ctx, "SELECT pdf FROM sheets WHERE aside_at = 0 AND id = ?", id).Scan(&pdf)
	return pdf, explain(err)
}
