package archive

import (
	"os"
	"path/filepath"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// What a program that was killed left unfinished is no other's file, and is swept away; whole files stay.
func TestWhatAKillLeftIsSwept(t *testing.T) {
	r := Results{t.TempDir()}
	require.NoError(t, r.makeFolders())
	left := []string{r.Path(".sitspan-123"), filepath.Join(r.Path(overlaysDir), ".sitspan-4")}
	for _, path := range left {
		require.NoError(t, os.WriteFile(path, []byte("half"), 0o600))
	}
	shut, err := r.Open(false)
	require.NoError(t, err)
	defer shut()
	for _, path := range left {
		assert.NoFileExists(t, path)
	}
	other := Results{t.TempDir()}
	require.NoError(t, os.WriteFile(other.Path("letter.txt"), nil, 0o600))
	_, err = other.Open(false)
	assert.ErrorContains(t, err, other.Dir)
	assert.FileExists(t, other.Path("letter.txt"))
}
