package lockfile

import (
	"fmt"
	"os"
	"path/filepath"
	"testing"

	"sitspan/cmd/sitspan/internal/words"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// One process has the lock, the next is told which, and it can be had again after.
func TestTake(t *testing.T) {
	path := filepath.Join(t.TempDir(), "a.lock")
	first, err := Take(path, "at the counter")
	require.NoError(t, err)
	_, err = Take(path, "in the back room")
	var held *Held
	require.ErrorAs(t, err, &held)
	assert.Equal(t, fmt.Sprintf("process %d, at the counter", os.Getpid()), held.By)
	require.NoError(t, first.Close())
	again, err := Take(path, "")
	require.NoError(t, err)
	require.NoError(t, again.Close())
	_, err = Take(filepath.Join(path, "none"), "")
	assert.Error(t, err)
}

// Who has a lock is said in any language; the English is what the holder said.
func TestHolder(t *testing.T) {
	for by, german := range map[string]string{
		"process 7":                             "Prozess 7",
		"process 7, at http://127.0.0.1:8420":   "Prozess 7, auf http://127.0.0.1:8420",
		"process 7, which is opening":           "Prozess 7, der gerade öffnet",
		"process 7, an audit into a, b/results": "Prozess 7, ein Audit nach a, b/results",
		silent:                                  "er sagt nicht, wo",
	} {
		assert.EqualError(t, Holder(by), by)
		assert.Equal(t, german, words.German.Error(Holder(by)))
	}
}
