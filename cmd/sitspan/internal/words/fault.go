package words

import (
	"context"
	"errors"
	"io"
	"io/fs"
	"os"
	"strings"
	"syscall"
)

// keyed is an error by a key: its text can be said in any language.
type keyed struct {
	key    string
	values Values
}

// Key is a value that is a text of its own: a thing's name, by its key.
type Key string

// Fault makes an error of a key and its values. Errors among them are wrapped,
// and their own text stands in their place; so does that of a Key.
func Fault(key string, v Values) error { return &keyed{key, v} }

// Error is the English text, for developers, logs and records.
func (f *keyed) Error() string { return English.Say(f.key, f.values) }

// Unwrap gives the errors among the values.
func (f *keyed) Unwrap() (all []error) {
	for _, v := range f.values {
		if err, is := v.(error); is {
			all = append(all, err)
		}
	}
	return all
}

// coded is an error of a package that knows no words: its text is the key
// error.CODE with the values.
type coded interface {
	Coded() (code string, values map[string]any)
}

// systems are what the system and the context report, and the key of each.
var systems = []struct {
	is  error
	key string
}{
	{context.Canceled, "error.system.stopped"},
	{context.DeadlineExceeded, "error.system.late"},
	{fs.ErrNotExist, "error.system.missing"},
	{fs.ErrExist, "error.system.there"},
	{fs.ErrPermission, "error.system.forbidden"},
	{syscall.ENOSPC, "error.system.full"},
	{syscall.EDQUOT, "error.system.full"},
	{syscall.EROFS, "error.system.readonly"},
	{syscall.EISDIR, "error.system.folder"},
	{syscall.ENOTDIR, "error.system.no_folder"},
	{syscall.EADDRINUSE, "error.system.address"},
	{syscall.ENAMETOOLONG, "error.system.long"},
	{io.ErrUnexpectedEOF, "error.system.short"},
}

// Error says an error in the language. Joined errors have a line each. What a
// library says of its own has no key: in English it stands as it is, in another
// language behind a word that tells that it is English.
func (l Lang) Error(err error) string {
	if err == nil {
		return ""
	}
	if text, said := l.speak(err); said {
		return text
	}
	if l == English && !systemsOwn(err) {
		return err.Error()
	}
	if told := ofSystem(err); told != nil {
		return l.Error(told)
	}
	if l == English {
		return err.Error()
	}
	if e := errors.Unwrap(err); e != nil {
		return l.Error(e)
	}
	return l.Say("error.foreign", Values{"text": err.Error()})
}

// systemsOwn tells an error that is the system's own, with no words of ours round it.
func systemsOwn(err error) bool {
	switch err.(type) {
	case *fs.PathError, *os.LinkError, *os.SyscallError, syscall.Errno:
		return true
	}
	return err == io.ErrUnexpectedEOF
}

// ofSystem is a system's error by a key, with the file that it is about; nil where
// an error is another one.
func ofSystem(err error) error {
	var path *fs.PathError
	for _, s := range systems {
		switch {
		case !errors.Is(err, s.is):
		case errors.As(err, &path):
			return Fault("error.of_file", Values{"file": path.Path, "why": Fault(s.key, nil)})
		default:
			return Fault(s.key, nil)
		}
	}
	return nil
}

// speak says an error that has a key, or a list of errors.
func (l Lang) speak(err error) (text string, said bool) {
	switch e := err.(type) {
	case *keyed:
		return l.Say(e.key, e.values), true
	case coded:
		code, values := e.Coded()
		return l.Say("error."+code, values), true
	case interface{ Unwrap() []error }:
		if l == English {
			return "", false
		}
		return l.each(e.Unwrap()), true
	}
	return "", false
}

// each says several errors, a line each, none twice.
func (l Lang) each(list []error) string {
	var lines []string
	seen := map[string]bool{}
	for _, err := range list {
		if text := l.Error(err); !seen[text] {
			seen[text] = true
			lines = append(lines, text)
		}
	}
	return strings.Join(lines, "\n")
}

// Either is a value that is a choice among words: "a, b or c".
type Either []string

// either lists the words of a choice.
func (l Lang) either(list Either) string {
	last := len(list) - 1
	if last < 1 {
		return strings.Join(list, "")
	}
	return l.Say("join.or", Values{"first": strings.Join(list[:last], ", "), "last": list[last]})
}
