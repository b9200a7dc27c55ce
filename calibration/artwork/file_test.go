package artwork

import (
	"bytes"
	"os"
	"path/filepath"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"sitspan/calibration"
)

func TestWriteFileChoosesTheFormatByTheEnding(t *testing.T) {
	d, err := Draw(calibration.ControlFrame, Options{})
	require.NoError(t, err)
	starts := map[string]string{"frame.pdf": "%PDF-", "frame.SVG": "<?xml", "frame.png": "\x89PNG\r\n\x1a\n"}
	folder := t.TempDir()
	for name, start := range starts {
		path := filepath.Join(folder, name)
		require.NoError(t, d.WriteFile(path, 0))
		content, err := os.ReadFile(path)
		require.NoError(t, err)
		assert.True(t, bytes.HasPrefix(content, []byte(start)), name)
	}
	left, err := os.ReadDir(folder)
	require.NoError(t, err)
	assert.Len(t, left, len(starts), "no temporary file is left")
}

func TestWriteFileLeavesTheOlderFileWhenItFails(t *testing.T) {
	d, err := Draw(calibration.ControlFrame, Options{})
	require.NoError(t, err)
	folder := t.TempDir()
	path := filepath.Join(folder, "frame.png")
	require.NoError(t, os.WriteFile(path, []byte("older"), 0o600))
	assert.ErrorContains(t, d.WriteFile(path, 5), "100 to 600")
	content, err := os.ReadFile(path)
	require.NoError(t, err)
	assert.Equal(t, "older", string(content))
	left, err := os.ReadDir(folder)
	require.NoError(t, err)
	assert.Len(t, left, 1)
}

func TestWriteFileNamesWhatIsWrong(t *testing.T) {
	d, err := Draw(calibration.ControlFrame, Options{})
	require.NoError(t, err)
	for _, name := range []string{"frame", "frame.jpg", ""} {
		assert.ErrorContains(t, d.WriteFile(name, 0), ".pdf, .svg or .png", name)
	}
	missing := filepath.Join(t.TempDir(), "none", "frame.pdf")
	assert.ErrorIs(t, d.WriteFile(missing, 0), os.ErrNotExist)
	assert.ErrorContains(t, d.Write(&bytes.Buffer{}, "gif", 0), "gif")
}
