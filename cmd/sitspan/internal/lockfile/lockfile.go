// Package lockfile keeps two processes from working on one folder. The lock goes with
// the process, however that ends, so none is ever left behind; its file stays.
package lockfile

import (
	"errors"
	"fmt"
	"os"
	"strings"
	"syscall"
	"time"

	"sitspan/cmd/sitspan/internal/words"
)

// Held is the error of a lock that another process has.
type Held struct {
	By string // what that process said of itself
}

func (e *Held) Error() string { return e.Unwrap().Error() }

// Unwrap gives the error that has words in each language.
func (e *Held) Unwrap() error {
	return words.Fault("error.lock.held", words.Values{"by": Holder(e.By)})
}

// Holder is what a lock's holder said of itself, with words in each language.
func Holder(by string) error {
	process, who, said := strings.Cut(by, ", ")
	v := words.Values{"n": strings.TrimPrefix(process, "process ")}
	page, at := strings.CutPrefix(who, "at ")
	dir, audits := strings.CutPrefix(who, "an audit into ")
	switch {
	case by == silent:
		return words.Fault("error.lock.by.silent", nil)
	case !said:
		return words.Fault("error.lock.by.process", v)
	case at:
		v["page"] = page
		return words.Fault("error.lock.by.at", v)
	case audits:
		v["dir"] = dir
		return words.Fault("error.lock.by.audit", v)
	}
	return words.Fault("error.lock.by.opening", v)
}

// silent stands for what a holder did not say in time.
const silent = "it does not say where"

// ErrUnable is the error of a file system that cannot lock.
var ErrUnable = words.Fault("error.lock.unable", nil)

// Take locks a file, and makes it where there is none. who is what others are told in
// their *Held error, beside the process. Closing the file gives the lock back.
func Take(path, who string) (*os.File, error) {
	f, err := os.OpenFile(path, os.O_RDWR|os.O_CREATE, 0o600)
	if err != nil {
		return nil, err
	}
	if err := syscall.Flock(int(f.Fd()), syscall.LOCK_EX|syscall.LOCK_NB); err != nil {
		defer f.Close()
		if errors.Is(err, syscall.EWOULDBLOCK) {
			return nil, &Held{whoHas(f)}
		}
		return nil, words.Fault("error.lock.unable_of", words.Values{"why": ErrUnable, "cause": err})
	}
	if err := Say(f, who); err != nil {
		f.Close()
		return nil, err
	}
	return f, nil
}

// Wait locks a file, and makes it where there is none, as soon as nobody else has it: for what takes no
// longer than a moment. Closing the file gives the lock back.
func Wait(path string) (*os.File, error) {
	f, err := os.OpenFile(path, os.O_RDWR|os.O_CREATE, 0o600)
	if err != nil {
		return nil, err
	}
	for {
		err = syscall.Flock(int(f.Fd()), syscall.LOCK_EX)
		if err == nil {
			return f, nil
		}
		if !errors.Is(err, syscall.EINTR) {
			f.Close()
			return nil, words.Fault("error.lock.unable_of", words.Values{"why": ErrUnable, "cause": err})
		}
	}
}

// Say changes what others are told of the lock's holder, who has the file from Take. Whoever reads meanwhile
// gets the old text or the new one.
func Say(f *os.File, who string) error {
	text := fmt.Appendf(nil, "process %d%s\n", os.Getpid(), comma(who))
	if _, err := f.WriteAt(text, 0); err != nil {
		return err
	}
	return f.Truncate(int64(len(text)))
}

// whoHas reads what the lock's holder said of itself. One that has only just
// taken it gets a moment to say so.
func whoHas(f *os.File) string {
	for range 20 {
		said := make([]byte, 200)
		n, _ := f.ReadAt(said, 0) // an unreadable answer is none
		if text, _, ended := strings.Cut(string(said[:n]), "\n"); ended {
			return text
		}
		time.Sleep(25 * time.Millisecond)
	}
	return silent
}

func comma(who string) string {
	if who == "" {
		return ""
	}
	return ", " + who
}
