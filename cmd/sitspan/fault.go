package main

import (
	"crypto/sha256"
	"errors"
	"io"
	"io/fs"
	"os"
	"slices"
	"strconv"
	"strings"
	"syscall"
	"unicode"

	"github.com/spf13/cobra"
	"github.com/spf13/pflag"

	"sitspan/cmd/sitspan/internal/record"
	"sitspan/cmd/sitspan/internal/words"
)

// This file says in the fitter's words, one line each, what the system and the
// flags' reader say in theirs.

// notRead is what is wrong with reading a file that the fitter named, what says
// which; what its own reader found is passed on as it is.
func notRead(what error, path string, err error) error {
	switch {
	case err == nil:
		return nil
	case errors.Is(err, fs.ErrNotExist), errors.Is(err, syscall.ENOTDIR):
		return words.Fault("error.read.missing", words.Values{"path": path, "what": what})
	case errors.Is(err, syscall.EISDIR):
		return words.Fault("error.read.folder", words.Values{"path": path, "what": what})
	case errors.Is(err, fs.ErrPermission):
		return words.Fault("error.read.forbidden", words.Values{"path": path, "what": what})
	}
	return err
}

// notWritten is what kept a file or folder from being written; the name of the
// file that stood in for it meanwhile is left out.
func notWritten(path string, err error) error {
	switch {
	case errors.Is(err, syscall.ENOSPC), errors.Is(err, syscall.EDQUOT):
		return words.Fault("error.write.full", words.Values{"path": path})
	case errors.Is(err, fs.ErrPermission), errors.Is(err, syscall.EROFS):
		return words.Fault("error.write.forbidden", words.Values{"path": path})
	case errors.Is(err, syscall.ENOTDIR):
		return words.Fault("error.write.through_file", words.Values{"path": path})
	case errors.Is(err, syscall.EISDIR), errors.Is(err, syscall.EEXIST):
		return words.Fault("error.write.folder", words.Values{"path": path})
	case errors.Is(err, fs.ErrNotExist):
		return words.Fault("error.write.nowhere", words.Values{"path": path})
	case errors.As(err, new(syscall.Errno)):
		return words.Fault("error.write.other", words.Values{"path": path, "why": err})
	}
	return err
}

// recordNotWritten leaves what the records' keeper says of its own, such as that
// a review would be lost.
func recordNotWritten(path string, err error) error {
	if errors.As(err, new(syscall.Errno)) {
		return words.Fault("error.the_record", words.Values{"why": notWritten(path, err)})
	}
	return err
}

// flagFault says what is wrong with a flag. A file whose name begins with a dash
// is taken for flags.
func flagFault(cmd *cobra.Command, err error, lang words.Lang) error {
	var value *pflag.InvalidValueError
	var unknown *pflag.NotExistError
	var missing *pflag.ValueRequiredError
	switch {
	case errors.As(err, &value):
		return words.Fault("usage.flag.value", words.Values{
			"flag": value.GetFlag().Name, "value": value.GetValue(), "why": valueFault(value),
		})
	case errors.As(err, &missing):
		return words.Fault("usage.flag.bare", words.Values{
			"flag": missing.GetFlag().Name, "type": takes(cmd, missing.GetFlag(), lang),
		})
	case errors.As(err, &unknown) && unknown.GetSpecifiedShortnames() != "":
		name := unknown.GetSpecifiedShortnames()
		return words.Fault("usage.flag.short", words.Values{"name": name})
	case errors.As(err, &unknown):
		return words.Fault("usage.flag.unknown", words.Values{
			"name": unknown.GetSpecifiedName(), "like": likeFlags(cmd, unknown.GetSpecifiedName()),
		})
	case errors.As(err, new(*pflag.InvalidSyntaxError)):
		return words.Fault("usage.flag.syntax", nil)
	}
	return err
}

// takes is the word that the help shows for a flag's value.
func takes(cmd *cobra.Command, flag *pflag.Flag, lang words.Lang) string {
	describe(cmd.Root(), lang)
	word, _ := pflag.UnquoteUsage(flag)
	return word
}

// valueFault says what a flag that pflag reads itself takes.
func valueFault(e *pflag.InvalidValueError) error {
	switch e.GetFlag().Value.Type() {
	case "int":
		return words.Fault("usage.flag.whole", nil)
	case "bool":
		return words.Fault("usage.flag.switch", nil)
	}
	return e.Unwrap()
}

// likeFlags names the flags that begin as the unknown one does, or that it
// begins as.
func likeFlags(cmd *cobra.Command, name string) error {
	var like []string
	cmd.Flags().VisitAll(func(f *pflag.Flag) {
		if !f.Hidden && (strings.HasPrefix(f.Name, name) || strings.HasPrefix(name, f.Name) ||
			oneSlip(f.Name, name)) {
			like = append(like, "--"+f.Name)
		}
	})
	if len(like) == 0 {
		return words.Fault("usage.flag.none_like", nil)
	}
	return words.Fault("usage.flag.like", words.Values{"like": words.Either(like)})
}

// oneSlip says whether two words differ by one letter too few or another one.
func oneSlip(a, b string) bool {
	if len(a) < len(b) {
		a, b = b, a
	}
	i := 0
	for i < len(b) && a[i] == b[i] {
		i++
	}
	if len(a) == len(b) {
		return i < len(a) && a[i+1:] == b[i+1:]
	}
	return len(a) == len(b)+1 && a[i+1:] == b[i:]
}

// printable is a name on one line: control characters, which could move a
// terminal's cursor, are shown by their escapes.
func printable(name string) string {
	if !strings.ContainsFunc(name, unicode.IsControl) {
		return name
	}
	quoted := strconv.Quote(name)
	return quoted[1 : len(quoted)-1]
}

// onOneLine makes the names in a measurement printable.
func onOneLine(m record.Measurement) record.Measurement {
	m.Photo = printable(m.Photo)
	m.Photos, m.Sittings = slices.Clone(m.Photos), slices.Clone(m.Sittings)
	for _, parts := range [][]record.Part{m.Photos, m.Sittings} {
		for i := range parts {
			parts[i].Photo = printable(parts[i].Photo)
		}
	}
	return m
}

// sameContent finds the first two names, or one name twice, whose files hold the
// same bytes.
func sameContent(names []string) (a, b string, found bool) {
	seen := make(map[[sha256.Size]byte]string, len(names))
	for _, name := range names {
		sum, err := contentSum(name)
		if err != nil {
			continue
		}
		if first, twice := seen[sum]; twice {
			return first, name, true
		}
		seen[sum] = name
	}
	return "", "", false
}

// mustBeRegular refuses what is no file: opening a pipe would wait for somebody to write into it.
func mustBeRegular(path string) error {
	info, err := os.Stat(path)
	if err == nil && !info.Mode().IsRegular() {
		err = words.Fault("error.not_regular", words.Values{"path": path})
	}
	return err
}

func contentSum(path string) (sum [sha256.Size]byte, err error) {
	if err := mustBeRegular(path); err != nil {
		return sum, err
	}
	f, err := os.Open(path)
	if err != nil {
		return sum, err
	}
	defer f.Close()
	h := sha256.New()
	if _, err := io.Copy(h, f); err != nil {
		return sum, err
	}
	return [sha256.Size]byte(h.Sum(nil)), nil
}
