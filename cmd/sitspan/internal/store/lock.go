package store

import (
	"errors"
	"fmt"
	"os"
	"path/filepath"
	"strings"
	"syscall"
	"time"
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
		return nil, &InUse{dir, whoHas(f)}
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

// whoHas reads what the lock's holder said of itself. One that has only just
// taken it gets a moment to say so.
func whoHas(f *os.File) string {
	for range 20 {
		said := make([]byte, 200)
		n, _ := f.ReadAt(said, 0) // an unreadable answer is none
		if text := strings.TrimSpace(string(said[:n])); text != "" {
			return text
		}
		time.Sleep(25 * time.Millisecond)
	}
	return "it does not say where"
}

func comma(who string) string {
	if who == "" {
		return ""
	}
	return ", " + who
}
