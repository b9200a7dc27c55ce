//go:build unix

package photo

import (
	"os"
	"path/filepath"
	"syscall"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

func TestReadOfAFile(t *testing.T) {
	path := filepath.Join(t.TempDir(), "scan.jpg") // a PNG: the content counts
	data := pngFile(t, sample().grey(8), physChunk(11811, 11811, 1))
	require.NoError(t, os.WriteFile(path, data, 0o600))
	link := path + ".link"
	require.NoError(t, os.Symlink(path, link))
	for _, name := range []string{path, link} {
		p, err := Read(name, Limits{})
		require.NoError(t, err)
		assert.Equal(t, name, p.Name)
		assert.Equal(t, PNG, p.Format)
		requireBlocks(t, sample(), p, 8)
	}
	_, err := Read(path, Limits{Bytes: int64(len(data)) - 1})
	requireReadError(t, TooLarge, err)
}

// What is not a regular file is refused at once: nobody ever writes into the
// pipe, so a call that waits on it would never end.
func TestReadRefusesWhatIsNoRegularFile(t *testing.T) {
	dir := t.TempDir()
	pipe := filepath.Join(dir, "pipe.jpg")
	require.NoError(t, syscall.Mkfifo(pipe, 0o600))
	loop := filepath.Join(dir, "loop.jpg")
	require.NoError(t, os.Symlink(loop, loop))
	dangling := filepath.Join(dir, "dangling.jpg")
	require.NoError(t, os.Symlink(filepath.Join(dir, "gone"), dangling))
	tests := []struct{ path, seen string }{
		{dir, "folder"},
		{pipe, "pipe"},
		{"/dev/zero", "device"},
		{loop, "circle"},
		{dangling, "no such file"},
		{filepath.Join(dir, "missing.jpg"), "no such file"},
		{"", "no such file"},
		{"a\x00b", "cannot be read"},
	}
	for _, test := range tests {
		t.Run(test.seen, func(t *testing.T) {
			done := make(chan error, 1)
			go func() { _, err := Read(test.path, Limits{}); done <- err }()
			select {
			case err := <-done:
				assert.Contains(t, requireReadError(t, Unreadable, err).Seen, test.seen)
			case <-time.After(5 * time.Minute):
				t.Fatal("Read waits")
			}
		})
	}
}

func TestPathErrorOfPermission(t *testing.T) {
	err := pathError(&os.PathError{Op: "open", Path: "a.jpg", Err: syscall.EACCES})
	assert.Equal(t, Unreadable, err.Code)
	assert.Contains(t, err.Seen, "may not be read")
	assert.ErrorIs(t, err, os.ErrPermission)
}
