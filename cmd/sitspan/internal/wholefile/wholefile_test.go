package wholefile

import (
	"errors"
	"fmt"
	"io"
	"io/fs"
	"os"
	"path/filepath"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

func content(t *testing.T, path string) string {
	t.Helper()
	data, err := os.ReadFile(path)
	require.NoError(t, err)
	return string(data)
}

func names(t *testing.T, dir string) (out []string) {
	t.Helper()
	entries, err := os.ReadDir(dir)
	require.NoError(t, err)
	for _, e := range entries {
		out = append(out, e.Name())
	}
	return out
}

func mode(t *testing.T, path string) fs.FileMode {
	t.Helper()
	info, err := os.Stat(path)
	require.NoError(t, err)
	return info.Mode().Perm()
}

// A file is replaced as a whole, keeps its mode, and has no company.
func TestWrite(t *testing.T) {
	dir := t.TempDir()
	path := filepath.Join(dir, "a.txt")
	require.NoError(t, Bytes(path, []byte("one")))
	assert.Equal(t, fs.FileMode(0o644), mode(t, path))
	require.NoError(t, os.Chmod(path, 0o600))
	require.NoError(t, Write(path, func(w io.Writer) error {
		for i := range 20_000 {
			fmt.Fprintf(w, "%d ", i)
		}
		assert.Equal(t, "one", content(t, path), "the older one stays meanwhile")
		return nil
	}))
	assert.Len(t, content(t, path), 108_890) // 10 + 90 2 + 900 3 + 9000 4 + 10000 5 digits, and 20,000 spaces
	assert.Equal(t, fs.FileMode(0o600), mode(t, path))
	assert.Equal(t, []string{"a.txt"}, names(t, dir))
}

// What cannot be written leaves the older file as it was, and nothing else.
func TestNothingIsLeftBehind(t *testing.T) {
	dir := t.TempDir()
	path := filepath.Join(dir, "a.txt")
	require.NoError(t, Bytes(path, []byte("one")))
	broken := errors.New("no more ink")
	err := Write(path, func(w io.Writer) error {
		fmt.Fprint(w, "two")
		return broken
	})
	assert.Equal(t, broken, err)
	assert.Equal(t, "one", content(t, path))
	require.NoError(t, os.Mkdir(filepath.Join(dir, "b"), 0o755))
	assert.Error(t, Bytes(filepath.Join(dir, "b"), []byte("x")), "a folder has this name")
	assert.ErrorIs(t, Bytes(filepath.Join(dir, "none", "c"), []byte("x")), fs.ErrNotExist)
	assert.Equal(t, []string{"a.txt", "b"}, names(t, dir))
}
