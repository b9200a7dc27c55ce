package photo

import (
	"errors"
	"io"
	"io/fs"
	"os"
	"syscall"
)

// Read reads the picture in a regular file. Directories, pipes and devices are
// refused without waiting for them. The error is a *ReadError.
func Read(path string, limits Limits) (*Photo, error) {
	data, err := readRegular(path, limits.orDefault().Bytes)
	if err != nil {
		err.Name = path
		return nil, err
	}
	return Decode(data, path, limits)
}

// readRegular reads a whole regular file of at most limit bytes. The kind is
// asked before opening, since opening a device can already act on it, and
// again afterwards, since the name may meanwhile mean something else; a pipe
// that slips in between cannot hang the call, being opened without blocking.
func readRegular(path string, limit int64) ([]byte, *ReadError) {
	if info, err := os.Stat(path); err != nil {
		return nil, pathError(err)
	} else if !info.Mode().IsRegular() {
		return nil, notRegular(info.Mode())
	}
	f, err := os.OpenFile(path, os.O_RDONLY|syscall.O_NONBLOCK, 0)
	if err != nil {
		return nil, pathError(err)
	}
	defer f.Close()
	info, err := f.Stat()
	if err != nil {
		return nil, pathError(err)
	}
	if !info.Mode().IsRegular() {
		return nil, notRegular(info.Mode())
	}
	return readAtMost(f, info.Size(), limit)
}

// readAtMost reads f to its end, which may move while it is read.
func readAtMost(f *os.File, size, limit int64) ([]byte, *ReadError) {
	if size > limit {
		return nil, errTooLarge(size, limit)
	}
	data := make([]byte, 0, size+1)
	for {
		n, err := f.Read(data[len(data):cap(data)])
		data = data[:len(data)+n]
		if errors.Is(err, io.EOF) {
			return data, nil
		}
		if err != nil {
			return nil, pathError(err)
		}
		if int64(len(data)) > limit {
			return nil, errTooLarge(int64(len(data)), limit)
		}
		if len(data) == cap(data) {
			data = append(data, 0)[:len(data)]
		}
	}
}

func notRegular(mode fs.FileMode) *ReadError {
	seen := "this is no regular file"
	switch {
	case mode.IsDir():
		return &ReadError{Code: Unreadable, Form: "folder", Seen: "this is a folder", Needed: "a photo",
			Hint: "name a photo in it; an audit measures a whole folder"}
	case mode&fs.ModeNamedPipe != 0:
		seen = "this is a pipe"
	case mode&fs.ModeDevice != 0:
		seen = "this is a device"
	case mode&fs.ModeSocket != 0:
		seen = "this is a socket"
	}
	e := errUnreadable(seen, nil)
	e.Hint = "name a photo"
	return e
}

// pathError says in plain words why the system would not give the file.
func pathError(err error) *ReadError {
	seen := "the file cannot be read"
	switch {
	case errors.Is(err, fs.ErrNotExist):
		e := errUnreadable("there is no such file", err)
		e.Form, e.Hint = "missing", "check the name and the folder"
		return e
	case errors.Is(err, fs.ErrPermission):
		e := errUnreadable("the file may not be read (permission denied)", err)
		e.Form = "denied"
		return e
	case errors.Is(err, syscall.ELOOP):
		seen = "the name is a symbolic link that leads in a circle"
	}
	return errUnreadable(seen, err)
}
