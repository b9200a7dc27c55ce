package lockfile

import (
	"fmt"
	"os"
	"path/filepath"
	"testing"

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
