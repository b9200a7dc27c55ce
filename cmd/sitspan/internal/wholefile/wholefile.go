// Package wholefile writes files so that they are there whole or not at all,
// whatever happens meanwhile: the disk grows full, the program is killed, the
// power fails.
package wholefile

import (
	"bufio"
	"io"
	"io/fs"
	"os"
	"path/filepath"
	"strings"
)

// unfinished begins the name of a file that is being written.
const unfinished = ".sitspan-"

// Unfinished tells the name of a file that is being written, or that a program which was killed left so.
func Unfinished(name string) bool { return strings.HasPrefix(name, unfinished) }

// Sweep removes what a program that was killed left unfinished in folders. The caller sees to it that nobody
// writes there.
func Sweep(dirs ...string) {
	for _, dir := range dirs {
		names, _ := os.ReadDir(dir) // what cannot be read is told where it is needed
		for _, e := range names {
			if Unfinished(e.Name()) && e.Type().IsRegular() {
				os.Remove(filepath.Join(dir, e.Name()))
			}
		}
	}
}

// Write writes a file beside its place, to the disk, and renames it. An older
// file of that name stays until then, and its mode is kept; a new one may be read
// by everybody. The folder must be there. After an error nothing is left behind,
// and the error is of the system or of write, as it came.
func Write(path string, write func(io.Writer) error) (err error) {
	mode := fs.FileMode(0o644)
	if old, err := os.Stat(path); err == nil {
		mode = old.Mode().Perm()
	}
	dir := filepath.Dir(path)
	part, err := os.CreateTemp(dir, unfinished+"*")
	if err != nil {
		return err
	}
	defer func() {
		if err != nil {
			part.Close()
			os.Remove(part.Name())
		}
	}()
	w := bufio.NewWriterSize(part, 1<<16)
	if err = write(w); err != nil {
		return err
	}
	if err = w.Flush(); err != nil {
		return err
	}
	if err = part.Chmod(mode); err != nil {
		return err
	}
	if err = part.Sync(); err != nil {
		return err
	}
	if err = part.Close(); err != nil {
		return err
	}
	if err = os.Rename(part.Name(), path); err != nil {
		return err
	}
	syncFolder(dir)
	return nil
}

// Bytes is Write for what is in memory.
func Bytes(path string, data []byte) error {
	return Write(path, func(w io.Writer) error {
		_, err := w.Write(data)
		return err
	})
}

// syncFolder makes the rename last through a loss of power, where the system can;
// the file itself is safe.
func syncFolder(dir string) {
	d, err := os.Open(dir)
	if err != nil {
		return
	}
	defer d.Close()
	_ = d.Sync()
}
