package photo

import (
	"os"
	"path/filepath"
	"runtime"
	"syscall"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// nobody is a user that owns no file of a test.
const nobody = 65534

// asNobody calls f where permissions hold: as another user where the test runs as the
// superuser, whom they do not bind. f must stay in its goroutine. The thread that became
// another user is given up afterwards (setfsuid(2) speaks of one thread).
func asNobody(t *testing.T, f func()) {
	t.Helper()
	if os.Geteuid() != 0 {
		f()
		return
	}
	done := make(chan error)
	go func() {
		defer close(done)
		runtime.LockOSThread()
		_, _, _ = syscall.RawSyscall(syscall.SYS_SETFSUID, nobody, 0, 0) // it answers with the user before
		if now, _, _ := syscall.RawSyscall(syscall.SYS_SETFSUID, nobody, 0, 0); now != nobody {
			done <- syscall.EPERM
			return
		}
		f()
	}()
	require.NoError(t, <-done, "the superuser could not become another user")
}

func TestReadOfAForbiddenFile(t *testing.T) {
	path := filepath.Join(t.TempDir(), "a.jpg")
	require.NoError(t, os.WriteFile(path, jpegFile(t, sample().grey(8)), 0))
	var err error
	asNobody(t, func() { _, err = Read(path, Limits{}) })
	assert.Contains(t, requireReadError(t, Unreadable, err).Seen, "may not be read")
}
