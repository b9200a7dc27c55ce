package store

import (
	"archive/zip"
	"bytes"
	"context"
	"crypto/sha256"
	"encoding/hex"
	"encoding/json"
	"errors"
	"io"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"sitspan/cmd/sitspan/internal/record"
)

func open(t *testing.T, dir string) *Store {
	t.Helper()
	s, err := Open(dir, "")
	require.NoError(t, err)
	t.Cleanup(func() { s.Close() })
	return s
}

func fixture(t *testing.T, name string) record.Record {
	t.Helper()
	rec, err := record.Load(filepath.Join("../record/testdata", name))
	require.NoError(t, err)
	return rec
}

func hashOf(data []byte) string {
	sum := sha256.Sum256(data)
	return hex.EncodeToString(sum[:])
}

// fill makes a visit with a photo, a record, a review and a sheet.
func fill(t *testing.T, s *Store, alias string, photo []byte) (Visit, Kept) {
	t.Helper()
	ctx := t.Context()
	v, err := s.NewVisit(ctx, alias)
	require.NoError(t, err)
	shot, err := s.AddPhoto(ctx, v.ID, "imprint.jpg", "desk", ".jpg", bytes.NewReader(photo), 1<<20)
	require.NoError(t, err)
	require.Equal(t, hashOf(photo), shot.SHA256)
	rec := fixture(t, "schema1-foam.json")
	id, err := s.AddRecord(ctx, Kept{VisitID: v.ID, ShotID: shot.ID, Kind: OfPhoto, Record: rec},
		map[string][]byte{Overlay: []byte("drawn for " + alias)})
	require.NoError(t, err)
	require.NoError(t, s.AddReview(ctx, id, 0, record.Revision{Reviewer: "Kim", Note: "moved left",
		Measurement: rec.Measurement}))
	_, err = s.AddSheet(ctx, Sheet{VisitID: v.ID, RecordID: id, Lang: "de"}, rec, []byte("sheet for "+alias))
	require.NoError(t, err)
	k, err := s.Record(ctx, id)
	require.NoError(t, err)
	return v, k
}

func TestVisitIsKept(t *testing.T) {
	dir := t.TempDir()
	s := open(t, dir)
	v, err := s.NewVisit(t.Context(), "  Rider   17 ")
	require.NoError(t, err)
	angle := 45.0
	v.MassKg, v.Complaints, v.Note = 78, []string{"numbness"}, "long rides"
	set := SetUp{Medium: "foam", DepthMM: []float64{14, 15.5}}
	require.NoError(t, s.SaveSetUp(t.Context(), v.ID, SetUp{}, set))
	assert.ErrorIs(t, s.SaveSetUp(t.Context(), v.ID, SetUp{}, SetUp{Pad: "gel"}), ErrChanged,
		"somebody else was first")
	v.Bikes = []Bike{{Name: "winter", Use: "gravel", Posture: Posture{TrunkDeg: &angle, TrunkU: 2}},
		{Use: "city"}}
	require.NoError(t, s.SaveVisit(t.Context(), v))
	v.SetUp, v.Version = set, v.Version+1
	v.Bikes[0].Place, v.Bikes[1].Place = 1, 2
	require.NoError(t, s.Close())

	got, err := open(t, dir).Visit(t.Context(), v.ID)
	require.NoError(t, err)
	assert.Equal(t, v, got)
	assert.Equal(t, "Rider 17", got.Alias, "white space is collapsed")
}

func TestSameAliasIsOneRider(t *testing.T) {
	s := open(t, t.TempDir())
	a, err := s.NewVisit(t.Context(), "Robin")
	require.NoError(t, err)
	b, err := s.NewVisit(t.Context(), "robin")
	require.NoError(t, err)
	assert.Equal(t, a.RiderID, b.RiderID)
	visits, err := s.Visits(t.Context(), a.RiderID)
	require.NoError(t, err)
	require.Len(t, visits, 2)
	assert.Equal(t, b.ID, visits[0].ID, "the latest first")
	_, err = s.NewVisit(t.Context(), " \t")
	assert.ErrorContains(t, err, "alias")
}

func TestReviewStandsBesideTheRecord(t *testing.T) {
	s := open(t, t.TempDir())
	v, k := fill(t, s, "Robin", []byte("photo"))
	require.Len(t, k.Record.Reviews, 1)
	assert.Equal(t, "Kim", k.Record.Reviews[0].Reviewer)
	assert.Equal(t, fixture(t, "schema1-foam.json").Measurement, k.Record.Measurement,
		"the automatic measurement is as it was")
	v, err := s.Visit(t.Context(), v.ID)
	require.NoError(t, err)
	assert.Equal(t, k.ID, v.Current)
	assert.Error(t, s.AddReview(t.Context(), k.ID, 0, record.Revision{Measurement: k.Record.Measurement}),
		"no reviewer")
	assert.ErrorIs(t, s.AddReview(t.Context(), 999, 0, record.Revision{Reviewer: "Kim",
		Measurement: k.Record.Measurement}), ErrNotFound)
}

// TestReviewIsTakenBack: what counted before counts again, and nobody overwrites what they have not seen.
func TestReviewIsTakenBack(t *testing.T) {
	s := open(t, t.TempDir())
	_, k := fill(t, s, "Robin", []byte("photo"))
	second := record.Revision{Reviewer: "Lee", Measurement: k.Record.Measurement}
	assert.ErrorIs(t, s.AddReview(t.Context(), k.ID, 0, second), ErrChanged, "Kim's was not seen")
	require.NoError(t, s.AddReview(t.Context(), k.ID, k.LastReview, second))
	assert.ErrorIs(t, s.WithdrawReview(t.Context(), k.ID, k.LastReview), ErrChanged, "Kim's is not the last")
	now, err := s.Record(t.Context(), k.ID)
	require.NoError(t, err)
	require.NoError(t, s.WithdrawReview(t.Context(), k.ID, now.LastReview))
	after, err := s.Record(t.Context(), k.ID)
	require.NoError(t, err)
	assert.Equal(t, k, after)
	require.NoError(t, s.WithdrawReview(t.Context(), k.ID, k.LastReview))
	after, err = s.Record(t.Context(), k.ID)
	require.NoError(t, err)
	assert.Empty(t, after.Record.Reviews)
	assert.Zero(t, after.LastReview)
}

func TestWhichRecordCounts(t *testing.T) {
	s := open(t, t.TempDir())
	v, first := fill(t, s, "Robin", []byte("photo"))
	current := func() int64 {
		got, err := s.Visit(t.Context(), v.ID)
		require.NoError(t, err)
		return got.Current
	}
	add := func(kind, name string) int64 {
		id, err := s.AddRecord(t.Context(), Kept{VisitID: v.ID, Kind: kind, Record: fixture(t, name)}, nil)
		require.NoError(t, err)
		return id
	}
	add(OfPhoto, "schema1-refused.json")
	assert.Equal(t, first.ID, current(), "a refused photo does not take a number's place")
	add(OfPhoto, "schema1-foam.json")
	assert.Equal(t, first.ID, current(), "a new photo does not take the place of what a person has looked at")
	fresh, err := s.NewVisit(t.Context(), "Robin")
	require.NoError(t, err)
	var last int64
	for range 2 {
		last, err = s.AddRecord(t.Context(), Kept{VisitID: fresh.ID, Kind: OfPhoto,
			Record: fixture(t, "schema1-foam.json")}, nil)
		require.NoError(t, err)
	}
	fresh, err = s.Visit(t.Context(), fresh.ID)
	require.NoError(t, err)
	assert.Equal(t, last, fresh.Current, "the newest number counts")
	joint := add(OfTogether, "schema1-foam.json")
	assert.Equal(t, joint, current())
	add(OfPhoto, "schema1-foam.json")
	assert.Equal(t, joint, current(), "a single photo does not take a joint number's place")
	require.NoError(t, s.SetCurrent(t.Context(), v.ID, first.ID))
	assert.Equal(t, first.ID, current(), "the fitter decides")
	assert.ErrorIs(t, s.SetCurrent(t.Context(), v.ID, 999), ErrNotFound)
}

func TestPhotoSentTwiceIsOne(t *testing.T) {
	s := open(t, t.TempDir())
	v, err := s.NewVisit(t.Context(), "Robin")
	require.NoError(t, err)
	var ids []int64
	for range 2 {
		shot, err := s.AddPhoto(t.Context(), v.ID, "../../etc/x.jpg", "phone", ".jpg", strings.NewReader("photo"),
			100)
		require.NoError(t, err)
		assert.Equal(t, "x.jpg", shot.Name)
		ids = append(ids, shot.ID)
	}
	assert.Equal(t, ids[0], ids[1])
	entries, err := os.ReadDir(filepath.Join(s.Dir(), photoDir))
	require.NoError(t, err)
	require.Len(t, entries, 1)
	assert.Equal(t, hashOf([]byte("photo"))+".jpg", entries[0].Name())
}

func TestPhotoIsBounded(t *testing.T) {
	s := open(t, t.TempDir())
	v, err := s.NewVisit(t.Context(), "Robin")
	require.NoError(t, err)
	add := func(visit int64, extension, content string) error {
		_, err := s.AddPhoto(t.Context(), visit, "x", "desk", extension, strings.NewReader(content), 10)
		return err
	}
	assert.NoError(t, add(v.ID, ".jpg", "0123456789"))
	assert.ErrorIs(t, add(v.ID, ".jpg", "0123456789a"), ErrTooLarge)
	assert.Error(t, add(v.ID, ".jpg", ""))
	assert.Error(t, add(v.ID, "/../x", "0"))
	assert.ErrorIs(t, add(999, ".jpg", "1"), ErrNotFound)
	entries, err := os.ReadDir(filepath.Join(s.Dir(), incomingDir))
	require.NoError(t, err)
	assert.Empty(t, entries, "nothing half-received stays")
}

func TestSearchFindsAliasNoteAndBike(t *testing.T) {
	s := open(t, t.TempDir())
	v, err := s.NewVisit(t.Context(), "Robin 100%")
	require.NoError(t, err)
	v.Note, v.Bikes = "knee_left", []Bike{{Name: "Old Grey", Use: "touring"}}
	require.NoError(t, s.SaveVisit(t.Context(), v))
	_, err = s.NewVisit(t.Context(), "Sasha")
	require.NoError(t, err)
	for text, found := range map[string]int{"": 2, "robin": 1, "100%": 1, "%": 1, "_": 1, "old gr": 1, "TOUR": 1,
		"nobody": 0, "'; DROP TABLE riders; --": 0} {
		lines, err := s.Riders(t.Context(), text, 50)
		require.NoError(t, err, text)
		assert.Len(t, lines, found, text)
	}
}

func TestErasedRiderIsGoneFromTheFiles(t *testing.T) {
	dir := t.TempDir()
	s := open(t, dir)
	shared, own := []byte("photo of both"), []byte("photo of one alone")
	v, _ := fill(t, s, "Vanishing-Rider", own)
	_, err := s.AddPhoto(t.Context(), v.ID, "both.jpg", "desk", ".jpg", bytes.NewReader(shared), 1<<20)
	require.NoError(t, err)
	fill(t, s, "Staying-Rider", shared)

	e, err := s.Erase(t.Context(), v.RiderID)
	require.NoError(t, err)
	assert.Equal(t, Erased{Visits: 1, Records: 1, Photos: 1, Sheets: 1}, e)
	assert.NoFileExists(t, filepath.Join(dir, photoDir, hashOf(own)+".jpg"))
	assert.FileExists(t, filepath.Join(dir, photoDir, hashOf(shared)+".jpg"), "another rider has it, too")
	staying := 0
	for _, name := range []string{fileName, fileName + "-wal"} {
		data, err := os.ReadFile(filepath.Join(dir, name))
		require.NoError(t, err)
		assert.NotContains(t, string(data), "Vanishing-Rider", name)
		staying += bytes.Count(data, []byte("Staying-Rider"))
	}
	assert.Positive(t, staying, "text can be found in the files, so its absence says something")
	_, err = s.Erase(t.Context(), v.RiderID)
	assert.ErrorIs(t, err, ErrNotFound)
}

func TestSecondDeskIsTold(t *testing.T) {
	dir := t.TempDir()
	s, err := Open(dir, "at 127.0.0.1:8181")
	require.NoError(t, err)
	_, err = Open(dir, "")
	var inUse *InUse
	require.ErrorAs(t, err, &inUse)
	assert.Contains(t, err.Error(), "at 127.0.0.1:8181")
	assert.Contains(t, err.Error(), "--data")
	require.NoError(t, s.Close())
	open(t, dir)
}

func TestBackUpWhileTheDeskWrites(t *testing.T) {
	dir := t.TempDir()
	s := open(t, dir)
	fill(t, s, "Robin", []byte("first"))
	ctx, stop := context.WithCancel(t.Context())
	done := make(chan int)
	go func() {
		n := 0
		for ; ctx.Err() == nil; n++ {
			v, err := s.NewVisit(context.Background(), "Robin")
			if err == nil {
				_, err = s.AddPhoto(context.Background(), v.ID, "x", "desk", ".jpg",
					strings.NewReader(strings.Repeat("x", n+1)), 1<<20)
			}
			if err != nil {
				break
			}
		}
		done <- n
	}()
	to := filepath.Join(t.TempDir(), "copy")
	photos, err := BackUp(t.Context(), dir, to)
	stop()
	assert.Positive(t, <-done, "something was written meanwhile")
	require.NoError(t, err)
	assert.Positive(t, photos)

	restored := open(t, to)
	lines, err := restored.Riders(t.Context(), "Robin", 10)
	require.NoError(t, err)
	require.Len(t, lines, 1)
	visits, err := restored.Visits(t.Context(), lines[0].ID)
	require.NoError(t, err)
	for _, v := range visits {
		shots, err := restored.Shots(t.Context(), v.ID)
		require.NoError(t, err)
		for _, shot := range shots {
			data, err := os.ReadFile(restored.PhotoPath(shot))
			require.NoError(t, err)
			assert.Equal(t, shot.SHA256, hashOf(data))
		}
	}
	_, err = BackUp(t.Context(), dir, to)
	assert.ErrorContains(t, err, "there already")
	_, err = BackUp(t.Context(), t.TempDir(), filepath.Join(t.TempDir(), "x"))
	assert.ErrorContains(t, err, "no data")
}

func TestExportListsBothHashes(t *testing.T) {
	s := open(t, t.TempDir())
	v, k := fill(t, s, "Robin", []byte("with a place"))
	var out bytes.Buffer
	require.NoError(t, s.Export(t.Context(), &out, v.RiderID,
		func(_ context.Context, shot Shot) ([]byte, string, error) {
			return []byte("plain"), ".jpg", nil
		}))
	archive, err := zip.NewReader(bytes.NewReader(out.Bytes()), int64(out.Len()))
	require.NoError(t, err)
	files := map[string]string{}
	for _, f := range archive.File {
		r, err := f.Open()
		require.NoError(t, err)
		content, err := io.ReadAll(r)
		require.NoError(t, err)
		files[f.Name] = string(content)
	}
	var rider struct {
		Alias  string
		Visits []exportedVisit
	}
	require.NoError(t, json.Unmarshal([]byte(files["rider.json"]), &rider))
	assert.Equal(t, "Robin", rider.Alias)
	require.Len(t, rider.Visits, 1)
	require.Len(t, rider.Visits[0].Photos, 1)
	p := rider.Visits[0].Photos[0]
	assert.Equal(t, hashOf([]byte("with a place")), p.OriginalSHA256)
	assert.Equal(t, hashOf([]byte("plain")), p.SHA256)
	assert.Equal(t, "plain", files[p.File])
	require.Len(t, rider.Visits[0].Records, 1)
	assert.Equal(t, k.Record, rider.Visits[0].Records[0].Content)
	assert.Equal(t, "sheet for Robin", files[rider.Visits[0].Sheets[0]])
	assert.ErrorIs(t, s.Export(t.Context(), io.Discard, 999, nil), ErrNotFound)
	failing := errors.New("no picture")
	assert.ErrorIs(t, s.Export(t.Context(), io.Discard, v.RiderID,
		func(context.Context, Shot) ([]byte, string, error) { return nil, "", failing }), failing)
}

func TestReplacedPhotoIsGone(t *testing.T) {
	s := open(t, t.TempDir())
	v, k := fill(t, s, "Robin", []byte("a card's face"))
	require.NoError(t, s.ReplacePhoto(t.Context(), k.ShotID, ".jpg", []byte("covered"), true))
	shots, err := s.Shots(t.Context(), v.ID)
	require.NoError(t, err)
	require.Len(t, shots, 1)
	assert.Equal(t, hashOf([]byte("covered")), shots[0].SHA256)
	requireFilesMatchRows(t, s)
	assert.NoFileExists(t, filepath.Join(s.Dir(), photoDir, hashOf([]byte("a card's face"))+".jpg"))
	again, err := s.AddPhoto(t.Context(), v.ID, "again.jpg", "desk", ".jpg", strings.NewReader("a card's face"),
		1000)
	require.NoError(t, err)
	assert.Equal(t, shots[0].ID, again.ID, "sent again, it is the same photo")
	requireFilesMatchRows(t, s)
	assert.NoFileExists(t, filepath.Join(s.Dir(), photoDir, hashOf([]byte("a card's face"))+".jpg"),
		"and its face does not come back")
	again, err = s.AddPhoto(t.Context(), v.ID, "own.jpg", "desk", ".jpg", strings.NewReader("covered"), 1000)
	require.NoError(t, err)
	assert.Equal(t, shots[0].ID, again.ID, "the covered file itself, too")
	assert.Equal(t, hashOf([]byte("a card's face")), again.Original)
	assert.ErrorIs(t, s.ReplacePhoto(t.Context(), 999, ".jpg", []byte("x"), true), ErrNotFound)
}

// TestUncoveredPicturesAreGone: nothing that was drawn from the photo as it was
// stays, in no free page either.
func TestUncoveredPicturesAreGone(t *testing.T) {
	s := open(t, t.TempDir())
	v, k := fill(t, s, "Robin", []byte("photo"))
	face := strings.Repeat("face of a card ", 40)
	one, err := s.AddRecord(t.Context(), Kept{VisitID: v.ID, ShotID: k.ShotID, Kind: OfPhoto, Record: k.Record},
		map[string][]byte{Overlay: []byte(face), View: []byte(face)})
	require.NoError(t, err)
	joint, err := s.AddRecord(t.Context(), Kept{VisitID: v.ID, Kind: OfTogether, Record: k.Record},
		map[string][]byte{Overlay: []byte(face)})
	require.NoError(t, err)
	_, err = s.AddSheet(t.Context(), Sheet{VisitID: v.ID, RecordID: one, Lang: "en"}, k.Record, []byte(face))
	require.NoError(t, err)
	require.NoError(t, s.Uncover(t.Context(), k.ShotID, map[string][]byte{View: []byte("painted over")}))
	got, err := s.Picture(t.Context(), one, View)
	require.NoError(t, err)
	assert.Equal(t, "painted over", string(got))
	for _, id := range []int64{one, joint} {
		_, err = s.Picture(t.Context(), id, Overlay)
		assert.ErrorIs(t, err, ErrNotFound)
	}
	sheets, err := s.Sheets(t.Context(), v.ID)
	require.NoError(t, err)
	assert.Empty(t, sheets)
	for _, name := range []string{fileName, fileName + "-wal"} {
		data, err := os.ReadFile(filepath.Join(s.Dir(), name))
		require.NoError(t, err)
		assert.NotContains(t, string(data), "face of a card", name)
	}
}
