package store

import (
	"io"
	"os"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// TestPartsGoOnWhereTheyEnd, also in a store that was opened anew; a day later nobody waits for the rest.
func TestPartsGoOnWhereTheyEnd(t *testing.T) {
	dir := t.TempDir()
	s := open(t, dir)
	have, err := s.AppendPart("a", 0, []byte("first "))
	require.NoError(t, err)
	assert.EqualValues(t, 6, have)
	have, err = s.AppendPart("a", 0, []byte("first ")) // the answer was lost, and it comes again
	require.NoError(t, err)
	assert.EqualValues(t, 6, have, "nothing twice")
	have, err = s.AppendPart("b", 9, []byte("of another"))
	require.NoError(t, err)
	assert.Zero(t, have, "nothing with a hole before it")
	require.NoError(t, s.Close())

	s = open(t, dir)
	have, err = s.AppendPart("a", 6, []byte("second"))
	require.NoError(t, err)
	assert.EqualValues(t, 12, have)
	f, err := s.OpenPart("a")
	require.NoError(t, err)
	text, err := io.ReadAll(f)
	require.NoError(t, err)
	require.NoError(t, f.Close())
	assert.Equal(t, "first second", string(text))
	old := time.Now().Add(-partLasts - time.Hour)
	require.NoError(t, os.Chtimes(s.partPath("a"), old, old))
	require.NoError(t, s.Close())

	s = open(t, dir)
	_, err = s.OpenPart("a")
	assert.Error(t, err, "swept")
	require.NoError(t, s.DropPart("a"), "what is gone is gone")
}
