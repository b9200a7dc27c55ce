package store

import (
	"bytes"
	"os"
	"path/filepath"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// What is put aside is seen nowhere, comes back whole, and is gone for good when it is purged.
func TestAsideIsOutOfSightAndComesBack(t *testing.T) {
	ctx := t.Context()
	s := open(t, t.TempDir())
	v, k := fill(t, s, "Robin", []byte("a photo"))
	shots, err := s.Shots(ctx, v.ID)
	require.NoError(t, err)
	require.Len(t, shots, 1)

	require.NoError(t, s.PutAside(ctx, AShot, shots[0].ID))
	assert.ErrorIs(t, s.PutAside(ctx, AShot, shots[0].ID), ErrNotFound, "once is enough")
	_, err = s.Shot(ctx, shots[0].ID)
	assert.ErrorIs(t, err, ErrNotFound)
	_, err = s.Record(ctx, k.ID)
	assert.ErrorIs(t, err, ErrNotFound, "its measurement is out of sight, too")
	left, err := s.Unmeasured(ctx)
	require.NoError(t, err)
	assert.Empty(t, left)
	aside, err := s.AsideOf(ctx, v.RiderID)
	require.NoError(t, err)
	require.Len(t, aside, 1)
	assert.Equal(t, AShot, aside[0].Kind)
	assert.Equal(t, "imprint.jpg", aside[0].Name)
	require.NoError(t, s.TakeBack(ctx, AShot, shots[0].ID))
	again, err := s.Record(ctx, k.ID)
	require.NoError(t, err)
	assert.Equal(t, k, again)

	require.NoError(t, s.PutAside(ctx, AShot, shots[0].ID))
	sent, err := s.AddPhoto(ctx, v.ID, "b.jpg", "desk", ".jpg", bytes.NewReader([]byte("a photo")), 100)
	require.NoError(t, err)
	assert.Equal(t, shots[0].ID, sent.ID, "a photo that is sent again is taken back")

	require.NoError(t, s.PutAside(ctx, AVisit, v.ID))
	_, err = s.Visit(ctx, v.ID)
	assert.ErrorIs(t, err, ErrNotFound)
	_, err = s.LatestRecord(ctx)
	assert.ErrorIs(t, err, ErrNotFound)
	lines, err := s.Riders(ctx, "", 9)
	require.NoError(t, err)
	require.Len(t, lines, 1, "the rider is still to be found, with the way back")
	assert.Zero(t, lines[0].Visits)
	require.NoError(t, s.TakeBack(ctx, AVisit, v.ID))
	_, err = s.Visit(ctx, v.ID)
	assert.NoError(t, err)
}

func TestPurgedIsGoneFromTheFiles(t *testing.T) {
	ctx := t.Context()
	dir := t.TempDir()
	s := open(t, dir)
	v, k := fill(t, s, "Robin", []byte("a photo"))
	other, _ := fill(t, s, "Alex", []byte("another photo"))
	joint := k.Record
	joint.Photos[0].SHA256 = hashOf([]byte("a photo"))
	_, err := s.AddRecord(ctx, Kept{VisitID: v.ID, Kind: OfTogether, Record: joint},
		map[string][]byte{Overlay: []byte("drawn of all")})
	require.NoError(t, err)
	shots, err := s.Shots(ctx, v.ID)
	require.NoError(t, err)
	require.NoError(t, s.PutAside(ctx, AShot, shots[0].ID))
	gone, err := s.Purge(ctx, 0, time.Now().Add(-time.Hour))
	require.NoError(t, err)
	assert.Zero(t, gone, "what was put aside a moment ago stays")
	gone, err = s.Purge(ctx, other.RiderID, time.Now().Add(time.Hour))
	require.NoError(t, err)
	assert.Zero(t, gone, "another rider's")
	gone, err = s.Purge(ctx, v.RiderID, time.Now().Add(time.Hour))
	require.NoError(t, err)
	assert.Equal(t, 1, gone)
	assert.NoFileExists(t, filepath.Join(dir, photoDir, hashOf([]byte("a photo"))+".jpg"))
	assert.FileExists(t, filepath.Join(dir, photoDir, hashOf([]byte("another photo"))+".jpg"))
	records, err := s.Records(ctx, v.ID)
	require.NoError(t, err)
	assert.Empty(t, records, "and what was joined from it, whose picture shows it")
	for _, name := range []string{fileName, fileName + "-wal"} {
		data, err := os.ReadFile(filepath.Join(dir, name))
		require.NoError(t, err)
		assert.NotContains(t, string(data), "drawn for Robin", name)
		assert.NotContains(t, string(data), "drawn of all", name)
	}
}

func TestNamesAreFoundWithoutCaseAndUmlauts(t *testing.T) {
	ctx := t.Context()
	s := open(t, t.TempDir())
	for _, alias := range []string{"Müller", "Øystein", "Łukasz", "Straßer", "Anna-Žofie"} {
		_, err := s.NewVisit(ctx, alias)
		require.NoError(t, err)
	}
	for text, want := range map[string]string{"müll": "Müller", "MULLER": "Müller", "mueller": "Müller",
		"oystein": "Øystein", "ØYSTEIN": "Øystein", "lukasz": "Łukasz", "strasser": "Straßer",
		"ANNA-Z": "Anna-Žofie"} {
		lines, err := s.Riders(ctx, text, 9)
		require.NoError(t, err)
		if assert.Len(t, lines, 1, text) {
			assert.Equal(t, want, lines[0].Alias, text)
		}
	}
	for alias, n := range map[string]int{"MUELLER": 1, "muller ": 1, "Mull": 0, "Miller": 0} {
		lines, err := s.Namesakes(ctx, alias)
		require.NoError(t, err)
		assert.Len(t, lines, n, alias)
	}
}

func TestRidersAreRenamedAndMerged(t *testing.T) {
	ctx := t.Context()
	s := open(t, t.TempDir())
	a, _ := fill(t, s, "Robin", []byte("one"))
	b, _ := fill(t, s, "Robin Hill", []byte("two"))
	assert.ErrorIs(t, s.Rename(ctx, a.RiderID, " robin  hill "), ErrTaken)
	require.NoError(t, s.Rename(ctx, a.RiderID, "Rob"))
	v, err := s.Visit(ctx, a.ID)
	require.NoError(t, err)
	assert.Equal(t, "Rob", v.Alias)
	assert.ErrorIs(t, s.Merge(ctx, a.RiderID, a.RiderID), ErrNotFound)
	assert.ErrorIs(t, s.Merge(ctx, a.RiderID, 99), ErrNotFound)
	require.NoError(t, s.Merge(ctx, a.RiderID, b.RiderID))
	visits, err := s.Visits(ctx, b.RiderID)
	require.NoError(t, err)
	assert.Len(t, visits, 2)
	_, err = s.Rider(ctx, a.RiderID)
	assert.ErrorIs(t, err, ErrNotFound)
	shots, err := s.Shots(ctx, a.ID)
	require.NoError(t, err)
	assert.Len(t, shots, 1, "nothing of it is lost")
}
