package audit

import (
	"bytes"
	"context"
	"encoding/csv"
	"encoding/json"
	"fmt"
	"image"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"golang.org/x/image/tiff"

	"sitspan/cmd/sitspan/internal/audit/archive"
	"sitspan/cmd/sitspan/internal/audit/statistics"
	"sitspan/cmd/sitspan/internal/lockfile"
	"sitspan/cmd/sitspan/internal/record"
)

func runPlan(t *testing.T, p Plan) []string {
	t.Helper()
	a, err := Run(context.Background(), p)
	require.NoError(t, err)
	return a.Summary()
}

// A name as long as a file system takes has a record and an overlay like any other.
func TestLongestNames(t *testing.T) {
	dir, out := t.TempDir(), filepath.Join(t.TempDir(), "out")
	for i, letter := range []string{"n", "ä", "n"} {
		name := strings.Repeat(letter, 251/len(letter)) + ".jpg"
		if i == 2 {
			name = "n" + name[1:250] + ".jpg" // the same beginning, another picture
		}
		put(t, dir, name, measured(i, 100+float64(i)))
	}
	runPlan(t, fakePlan(dir, out))
	rows := rowsIn(t, out)
	require.Len(t, rows, 3)
	seen := map[string]bool{}
	for _, r := range rows {
		assert.Equal(t, record.Measured, r.Status)
		assert.FileExists(t, filepath.Join(out, r.Record))
		assert.FileExists(t, filepath.Join(out, r.Overlay))
		seen[r.Record] = true
	}
	assert.Len(t, seen, 3)
}

// An overlay that could not be drawn is counted and said, and drawn on resume.
func TestOverlaysThatWereNotDrawn(t *testing.T) {
	dir, out := t.TempDir(), filepath.Join(t.TempDir(), "out")
	put(t, dir, "a.jpg", measured(1, 120))
	undrawn := measured(2, 130)
	undrawn.Act = "undrawn"
	put(t, dir, "b.jpg", undrawn)
	p := fakePlan(dir, out)
	summary := strings.Join(runPlan(t, p), "\n")
	assert.Contains(
		t, summary, "1 overlay could not be drawn (no space left): run the audit again with --resume.",
	)
	row := rowOf(t, rowsIn(t, out), "b.jpg")
	assert.Equal(t, "no overlay: no space left", row.Note)
	assert.Empty(t, row.Overlay)
	assert.Equal(t, record.Measured, row.Status)
	require.NoError(t, os.WriteFile(filepath.Join(dir, "there is space"), nil, 0o644))
	p.Resume = true
	summary = strings.Join(runPlan(t, p), "\n")
	assert.NotContains(t, summary, "could not be drawn")
	assert.FileExists(t, filepath.Join(out, rowOf(t, rowsIn(t, out), "b.jpg").Overlay))
}

// Two audits into one folder would write over one another.
func TestResultsAreLocked(t *testing.T) {
	dir, out := cleanFolder(t, 2), filepath.Join(t.TempDir(), "out")
	p := fakePlan(dir, out)
	runPlan(t, p)
	lock, err := lockfile.Take(filepath.Join(out, "audit.lock"), "an audit")
	require.NoError(t, err)
	p.Resume = true
	_, err = Run(context.Background(), p)
	require.ErrorContains(t, err, "one audit at a time; wait for that one, or name another folder by --out")
	require.NoError(t, lock.Close())
	runPlan(t, p)
}

// Each page of a document is a row of its own, with a reading of its own; a reading of
// a page finds it. Pages are the same bytes from shards.
func TestPagesAreRows(t *testing.T) {
	dir, out := t.TempDir(), filepath.Join(t.TempDir(), "out")
	var b bytes.Buffer
	require.NoError(t, tiff.Encode(&b, image.NewGray(image.Rect(0, 0, 9, 9)), nil))
	one := b.Bytes()
	two := append(bytes.Clone(one), 0, 0, 0, 0, 0, 0)
	at := len(one) // a second directory, empty, chained after the first
	first := int(one[4]) | int(one[5])<<8 | int(one[6])<<16
	next := first + 2 + 12*(int(one[first])|int(one[first+1])<<8)
	copy(two[next:], []byte{byte(at), byte(at >> 8), byte(at >> 16), 0})
	require.NoError(t, os.WriteFile(filepath.Join(dir, "scan.tif"), two, 0o644))
	require.NoError(t, os.WriteFile(filepath.Join(dir, "copy.tif"), two, 0o644))
	put(t, dir, "scan.tif!.jpg", measured(1, 120)) // sorts between the pages
	p := fakePlan(dir, out)
	var err error
	p.Review.Readings, err = statistics.ReadReadings(
		strings.NewReader("file,spacing_mm\nscan.tif,111\nscan.tif#2,112\nscan.tif#3,113\n"), "cards.csv",
	)
	require.NoError(t, err)
	a, err := Run(context.Background(), p)
	require.NoError(t, err)
	require.Len(t, a.Readings.Faults, 1, "there is no third page")
	assert.Equal(t, "scan.tif#3", a.Readings.Faults[0].Value)
	rows := rowsIn(t, out)
	require.Len(t, rows, 5)
	assert.Equal(t, 112.0, *rowOf(t, rows, "scan.tif#2").Reading)
	assert.Equal(
		t, 102.0, *rowOf(t, rows, "scan.tif#2").Spacing, "the fake measures a page as 100 and its number",
	)
	assert.Equal(t, 111.0, *rowOf(t, rows, "scan.tif").Reading)
	assert.Equal(t, archive.Duplicate, rowOf(t, rows, "copy.tif#2").Status)
	var dirs []string
	for n := range 3 {
		q := p
		q.Out, q.Shard = filepath.Join(t.TempDir(), "shard"), archive.Shard{Number: n + 1, Of: 3}
		runPlan(t, q)
		dirs = append(dirs, q.Out)
	}
	joined := filepath.Join(t.TempDir(), "joined")
	_, err = Merge(context.Background(), dirs, joined, p.Review)
	require.NoError(t, err)
	assertSameResults(t, out, joined)
}

// A PDF is a row "not measured", whatever a letter or a scan is in it, and no file
// that was passed over.
func TestPDFIsNotMeasured(t *testing.T) {
	dir, out := t.TempDir(), filepath.Join(t.TempDir(), "out")
	putText(t, dir, "scan.pdf", "%PDF-1.4 ...")
	p := fakePlan(dir, out)
	runPlan(t, p)
	row := rowOf(t, rowsIn(t, out), "scan.pdf")
	assert.Equal(t, record.Failed, row.Status)
}

// The results of an older audit inside the folder are one row, and its overlays are
// not measured.
func TestOlderResultsAreSkipped(t *testing.T) {
	dir := cleanFolder(t, 2)
	runPlan(t, fakePlan(dir, filepath.Join(dir, "audit-2024")))
	out := filepath.Join(t.TempDir(), "out")
	runPlan(t, fakePlan(dir, out))
	rows := rowsIn(t, out)
	require.Len(t, rows, 3)
	older := rowOf(t, rows, "audit-2024")
	assert.Equal(t, archive.Ignored, older.Status)
	assert.Equal(t, "audit_results", older.Code)
}

// No cell of the table is taken for a formula; numbers stay numbers, rows.jsonl has
// the names as they are, and readings copied from the table find their files.
func TestNoCellIsAFormula(t *testing.T) {
	dir, out := t.TempDir(), filepath.Join(t.TempDir(), "out")
	readings := "file,spacing_mm,rider,fitter\n"
	for i, name := range []string{"=1+1.jpg", "+2.jpg", "-3.jpg", "@4.jpg"} {
		put(t, dir, name, measured(i, 120))
		readings += fmt.Sprintf("'%s,110,=HYPERLINK(A1),-5\n", name)
	}
	p := fakePlan(dir, out)
	var err error
	p.Review.Readings, err = statistics.ReadReadings(strings.NewReader(readings), "cards.csv")
	require.NoError(t, err)
	a, err := Run(context.Background(), p)
	require.NoError(t, err)
	assert.Equal(t, 4, a.Statistics.Readings.Compared)
	f, err := os.Open(filepath.Join(out, "rows.csv"))
	require.NoError(t, err)
	defer f.Close()
	lines, err := csv.NewReader(f).ReadAll()
	require.NoError(t, err)
	column := map[string]int{}
	for i, name := range lines[0] {
		column[name] = i
	}
	for _, line := range lines[1:] {
		assert.Regexp(t, `^'[=+@-]`, line[column["file"]])
		assert.Equal(t, "'=HYPERLINK(A1)", line[column["rider"]])
		assert.Equal(t, "-10", line[column["difference_mm"]])
		assert.Equal(t, "-5", line[column["fitter"]], "a number is no formula")
	}
	assert.Equal(t, "+2.jpg", rowsIn(t, out)[0].File)
}

// What a newer version wrote is not written over.
func TestNewerResultsAreRefused(t *testing.T) {
	dir, out := cleanFolder(t, 2), filepath.Join(t.TempDir(), "out")
	p := fakePlan(dir, out)
	runPlan(t, p)
	p.Resume = true
	change := func(name string, by func(map[string]any)) (undo func()) {
		path := filepath.Join(out, name)
		data, err := os.ReadFile(path)
		require.NoError(t, err)
		var v map[string]any
		require.NoError(t, json.Unmarshal(data, &v))
		by(v)
		changed, err := json.Marshal(v)
		require.NoError(t, err)
		require.NoError(t, os.WriteFile(path, changed, 0o644))
		return func() { require.NoError(t, os.WriteFile(path, data, 0o644)) }
	}
	newer := func(v map[string]any) { v["schema"] = 99 }
	undo := change("audit.json", newer)
	_, err := Run(context.Background(), p)
	require.ErrorContains(t, err, "schema is 99, this version reads up to 1: update sitspan")
	undo()
	undo = change(rowsIn(t, out)[0].Record, newer)
	_, err = Run(context.Background(), p)
	require.ErrorContains(t, err, "update sitspan")
	undo()
	runPlan(t, p)
}

// A record that is damaged is set aside, and its picture measured anew.
func TestDamagedRecordIsMeasuredAnew(t *testing.T) {
	dir, whole, out := cleanFolder(
		t, 3,
	), filepath.Join(
		t.TempDir(), "whole",
	), filepath.Join(
		t.TempDir(), "out",
	)
	runPlan(t, fakePlan(dir, whole))
	p := fakePlan(dir, out)
	runPlan(t, p)
	path := filepath.Join(out, rowsIn(t, out)[1].Record)
	require.NoError(t, os.WriteFile(path, []byte(`{"schema": 1, "photos"`), 0o644))
	p.Resume = true
	runPlan(t, p)
	assertSameResults(t, whole, out)
	kept, err := os.ReadFile(path + ".damaged")
	require.NoError(t, err)
	assert.Equal(t, `{"schema": 1, "photos"`, string(kept))
}

// A shard is given all readings; those of the others' files are no faults of its own,
// and one of no file is the fault of one shard.
func TestReadingsOfOtherShards(t *testing.T) {
	dir := cleanFolder(t, 12)
	readings := "file,spacing_mm\nnone.jpg,120\n"
	for i := range 12 {
		readings += fmt.Sprintf("%02d.jpg,%d\n", i, 92+i)
	}
	faults, compared := 0, 0
	for n := range 3 {
		p := fakePlan(dir, filepath.Join(t.TempDir(), "shard"))
		p.Shard = archive.Shard{Number: n + 1, Of: 3}
		var err error
		p.Review.Readings, err = statistics.ReadReadings(strings.NewReader(readings), "cards.csv")
		require.NoError(t, err)
		a, err := Run(context.Background(), p)
		require.NoError(t, err)
		s := a.Statistics.Readings
		assert.Equal(t, 13, s.Faults+s.Compared+s.OtherShards)
		faults, compared = faults+s.Faults, compared+s.Compared
	}
	assert.Equal(t, 1, faults)
	assert.Equal(t, 12, compared)
}
