package store

import (
	"context"
	"fmt"
	"os"
	"path/filepath"
	"strconv"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// copyOld lays a saved database of an older schema into a data folder.
func copyOld(t *testing.T, name string) string {
	t.Helper()
	data, err := os.ReadFile(filepath.Join("testdata", name))
	require.NoError(t, err)
	dir := t.TempDir()
	require.NoError(t, os.WriteFile(filepath.Join(dir, fileName), data, 0o600))
	return dir
}

func TestSchema1StillOpens(t *testing.T) {
	dir := copyOld(t, "schema1.db")
	db, err := openDatabase(dir, "rw")
	require.NoError(t, err)
	var version int
	require.NoError(t, db.QueryRow("PRAGMA user_version").Scan(&version))
	require.NoError(t, db.Close())
	require.Equal(t, 1, version, "the saved file is of schema 1")

	s := open(t, dir)
	require.NoError(t, s.db.QueryRow("PRAGMA user_version").Scan(&version))
	assert.Equal(t, Schema(), version)
	lines, err := s.Riders(t.Context(), "", 10)
	require.NoError(t, err)
	require.Len(t, lines, 1)
	assert.Equal(t, "Rider 17", lines[0].Alias)
	v, err := s.Visit(t.Context(), lines[0].LastID)
	require.NoError(t, err)
	assert.Equal(t, 78.0, v.MassKg)
	require.Len(t, v.Bikes, 1)
	assert.Equal(t, 45.0, *v.Bikes[0].Posture.TrunkDeg)
	k, err := s.Record(t.Context(), v.Current)
	require.NoError(t, err)
	assert.InDelta(t, 121.458, *k.Record.Measurement.Spacing, 1e-9, "as the saved record says")
	require.Len(t, k.Record.Reviews, 1)
	_, err = s.AddSheet(t.Context(), Sheet{VisitID: v.ID, RecordID: k.ID, Lang: "en"}, k.Record, []byte("pdf"))
	assert.NoError(t, err, "what schema 2 adds is there")
}

func TestNewerSchemaIsLeftAlone(t *testing.T) {
	dir := copyOld(t, "schema1.db")
	db, err := openDatabase(dir, "rw")
	require.NoError(t, err)
	_, err = db.Exec("PRAGMA user_version = 99")
	require.NoError(t, err)
	require.NoError(t, db.Close())
	_, err = Open(dir, "")
	assert.ErrorContains(t, err, "newer sitspan")
}

// TestSchema2StillOpens: photos get the hash that they came with.
func TestSchema2StillOpens(t *testing.T) {
	dir := copyOld(t, "schema2.db")
	db, err := openDatabase(dir, "rw")
	require.NoError(t, err)
	var version int
	require.NoError(t, db.QueryRow("PRAGMA user_version").Scan(&version))
	require.NoError(t, db.Close())
	require.Equal(t, 2, version, "the saved file is of schema 2")
	s := open(t, dir)
	shots, err := s.Shots(t.Context(), 1)
	require.NoError(t, err)
	require.Len(t, shots, 1)
	assert.Equal(t, hashOf([]byte("a photo")), shots[0].SHA256)
	assert.Equal(t, shots[0].SHA256, shots[0].Original)
	sheets, err := s.Sheets(t.Context(), 1)
	require.NoError(t, err)
	require.Len(t, sheets, 1)
	pdf, err := s.SheetPDF(t.Context(), sheets[0].ID)
	require.NoError(t, err)
	assert.Equal(t, "a sheet", string(pdf))
	again, err := s.AddPhoto(t.Context(), 1, "a.jpg", "desk", ".jpg", strings.NewReader("a photo"), 100)
	require.NoError(t, err)
	assert.Equal(t, shots[0].ID, again.ID, "the same photo is one")
}

// TestSchema3StillOpens: visits get a version, and reviews stay.
func TestSchema3StillOpens(t *testing.T) {
	s := open(t, copyOld(t, "schema3.db"))
	v, err := s.Visit(t.Context(), 1)
	require.NoError(t, err)
	assert.Equal(t, 1, v.Version)
	require.NoError(t, s.SaveVisit(t.Context(), v))
	assert.ErrorIs(t, s.SaveVisit(t.Context(), v), ErrChanged, "saved by somebody else meanwhile")
	k, err := s.Record(t.Context(), v.Current)
	require.NoError(t, err)
	require.Len(t, k.Record.Reviews, 1)
	require.NoError(t, s.WithdrawReview(t.Context(), k.ID, k.LastReview))
	k, err = s.Record(t.Context(), v.Current)
	require.NoError(t, err)
	assert.Empty(t, k.Record.Reviews)
}

// TestSchema5StillOpens: what was kept can be put aside.
func TestSchema5StillOpens(t *testing.T) {
	s := open(t, copyOld(t, "schema5.db"))
	checks, err := s.Checks(t.Context())
	require.NoError(t, err)
	require.Len(t, checks, 1)
	assert.InDelta(t, 120.4, *checks[0].MeasuredMM, 1e-9)
	sheets, err := s.Sheets(t.Context(), 1)
	require.NoError(t, err)
	require.Len(t, sheets, 1)
	require.NoError(t, s.PutAside(t.Context(), ASheet, sheets[0].ID))
	sheets, err = s.Sheets(t.Context(), 1)
	require.NoError(t, err)
	assert.Empty(t, sheets)
}

// TestWriteSchema writes a saved file, by the steps up to a version alone:
// SITSPAN_WRITE_SCHEMA=4 go test -run WriteSchema, before a fifth is made.
func TestWriteSchema(t *testing.T) {
	version, err := strconv.Atoi(os.Getenv("SITSPAN_WRITE_SCHEMA"))
	if err != nil {
		t.Skip("a file is written once, and kept")
	}
	dir := t.TempDir()
	db, err := openDatabase(dir, "rwc")
	require.NoError(t, err)
	require.NoError(t, migrate(db, version))
	s := &Store{dir: dir, db: db}
	ctx := context.Background()
	v, err := s.NewVisit(ctx, "Rider 17")
	require.NoError(t, err)
	angle := 45.0
	v.MassKg, v.Complaints, v.Bikes = 78, []string{"numbness"},
		[]Bike{{Name: "winter", Use: "gravel", Posture: Posture{TrunkDeg: &angle, TrunkU: 2, Basis: "typed"}}}
	require.NoError(t, s.SaveVisit(ctx, v))
	rec := fixture(t, "schema1-paper-reviewed.json")
	reviews := rec.Reviews
	foam := fixture(t, "schema1-foam.json")
	id, err := s.AddRecord(ctx, Kept{VisitID: v.ID, Kind: OfPhoto, Record: foam}, nil)
	require.NoError(t, err)
	require.NoError(t, s.AddReview(ctx, id, 0, reviews[0]))
	if version >= 2 {
		_, err = s.AddSheet(ctx, Sheet{VisitID: v.ID, RecordID: id, Lang: "de"}, foam, []byte("a sheet"))
		require.NoError(t, err)
		sum := hashOf([]byte("a photo"))
		_, err = db.Exec("INSERT INTO photos (sha256, extension, bytes) VALUES (?, '.jpg', 7)", sum)
		require.NoError(t, err)
		_, err = db.Exec("INSERT INTO shots (visit_id, sha256, name, via, sitting, received_at) VALUES (?, ?, "+
			"'a.jpg', 'desk', 1, 0)", v.ID, sum)
		require.NoError(t, err)
	}
	if version >= 5 {
		for _, d := range []string{s.dir + "/" + incomingDir, s.dir + "/" + photoDir} {
			require.NoError(t, os.MkdirAll(d, 0o700))
		}
		mm, u := 120.4, 1.1
		_, err = s.AddCheck(ctx, Check{Medium: "foam", Pad: "foam", Phone: "P1", DistanceMM: 120, DistanceU: 0.3,
			MeasuredMM: &mm, MeasuredU: &u, Accepted: true, Verdict: "passed"}, nil)
		require.NoError(t, err)
	}
	_, err = db.Exec("PRAGMA journal_mode = DELETE")
	require.NoError(t, err)
	require.NoError(t, db.Close())
	data, err := os.ReadFile(filepath.Join(dir, fileName))
	require.NoError(t, err)
	require.NoError(t, os.WriteFile(fmt.Sprintf("testdata/schema%d.db", version), data, 0o600))
}
