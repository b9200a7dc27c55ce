package store

import (
	"errors"
	"fmt"
	"io"
	"os"
	"path/filepath"
	"strings"
	"syscall"
)

// takeLock takes the folder for this process. The lock goes with the process,
// however that ends, so none is ever left behind.
func takeLock(dir, who string) (*os.File, error) {
	f, err := os.OpenFile(filepath.Join(dir, lockFileName), os.O_RDWR|os.O_CREATE, 0o600)
	if err != nil {
		return nil, fmt.Errorf("the data folder's lock: %w", explain(err))
	}
	if err := syscall.Flock(int(f.Fd()), syscall.LOCK_EX|syscall.LOCK_NB); err != nil {
		defer f.Close()
		if !errors.Is(err, syscall.EWOULDBLOCK) {
			return nil, fmt.Errorf("the data folder cannot be locked (%w): use a folder on this computer's own disk", err)
		}
		said, _ := io.ReadAll(io.LimitReader(f, 200)) // an empty answer is one, too
		return nil, &InUse{dir, strings.TrimSpace(string(said))}
	}
	if err := f.Truncate(0); err != nil {
		f.Close()
		return nil, explain(err)
	}
	if _, err := f.WriteAt(fmt.Appendf(nil, "process %d%s\n", os.Getpid(), comma(who)), 0); err != nil {
		f.Close()
		return nil, explain(err)
	}
	return f, nil
}

func comma(who string) string {
	if who == "" {
		return ""
	}
	return ", " + who
}
