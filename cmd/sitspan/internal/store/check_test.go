package store

import (
	"os"
	"path/filepath"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

func aCheck() Check {
	measured, u := 120.4, 0.9
	return Check{
		Medium: "foam", Pad: "blue gel", Phone: "P1", Print: "0.993", Light: "desk lamp", DistanceMM: 120,
		DistanceU:  0.3,
		DiameterMM: 40, MeasuredMM: &measured, MeasuredU: &u, Accepted: true, Verdict: "passed",
	}
}

func TestChecksAreKeptWithTheirPhotos(t *testing.T) {
	dir := t.TempDir()
	from := filepath.Join(t.TempDir(), "a.jpg")
	require.NoError(t, os.WriteFile(from, []byte("a ball's photo"), 0o600))
	s := open(t, dir)
	id, err := s.AddCheck(t.Context(), aCheck(), []CheckPhoto{{from, ".jpg"}})
	require.NoError(t, err)
	none := aCheck()
	none.MeasuredMM, none.MeasuredU, none.Accepted = nil, nil, false
	_, err = s.AddCheck(t.Context(), none, nil)
	require.NoError(t, err)

	list, err := ChecksIn(t.Context(), dir)
	require.NoError(t, err, "while the store is open")
	require.Len(t, list, 2)
	want := aCheck()
	want.ID, want.MadeAt, want.Photos = id, list[0].MadeAt, []string{hashOf([]byte("a ball's photo")) + ".jpg"}
	assert.Equal(t, want, list[0])
	assert.Nil(t, list[1].MeasuredMM)
	require.NoError(t, s.LeaveOutCheck(t.Context(), id, "rule held at 10"))
	assert.ErrorIs(t, s.LeaveOutCheck(t.Context(), 99, "x"), ErrNotFound)

	v, _ := fill(t, s, "Rider 1", []byte("a rider's photo"))
	_, err = s.Erase(t.Context(), v.RiderID)
	require.NoError(t, err)
	require.NoError(t, s.Close())
	s = open(t, dir)
	list, err = s.Checks(t.Context())
	require.NoError(t, err)
	assert.Equal(t, "rule held at 10", list[0].LeftOut)
	text, err := os.ReadFile(PhotoIn(dir, list[0].Photos[0]))
	require.NoError(t, err, "neither a rider's deletion nor the sweep takes a check's photo")
	assert.Equal(t, "a ball's photo", string(text))
	to := filepath.Join(t.TempDir(), "copy")
	photos, err := BackUp(t.Context(), dir, to)
	require.NoError(t, err)
	assert.Equal(t, 1, photos, "the back-up holds it")
}

func TestNoDataFolderHasNoChecks(t *testing.T) {
	dir := filepath.Join(t.TempDir(), "none")
	list, err := ChecksIn(t.Context(), dir)
	require.NoError(t, err)
	assert.Empty(t, list)
	assert.NoDirExists(t, dir, "nothing is made")
	list, err = ChecksIn(t.Context(), copyOld(t, "schema2.db"))
	require.NoError(t, err)
	assert.Empty(t, list, "an older one has none")
}

// TestSchema4StillOpens: a shop's riders stay, and checks can be added.
func TestSchema4StillOpens(t *testing.T) {
	dir := copyOld(t, "schema4.db")
	s := open(t, dir)
	lines, err := s.Riders(t.Context(), "", 10)
	require.NoError(t, err)
	require.Len(t, lines, 1)
	_, err = s.AddCheck(t.Context(), aCheck(), nil)
	require.NoError(t, err)
	list, err := s.Checks(t.Context())
	require.NoError(t, err)
	assert.Len(t, list, 1)
}
