package store

import (
	"database/sql"
	"errors"
	"syscall"

	"sitspan/cmd/sitspan/internal/lockfile"
	"sitspan/cmd/sitspan/internal/words"

	"github.com/mattn/go-sqlite3"
)

// ErrNotFound is the error of what is not, or no longer, in the store.
var ErrNotFound = words.Fault("error.store.gone", nil)

// ErrChanged is the error of a change to something that somebody else has changed since it was read.
var ErrChanged = words.Fault("error.store.changed", nil)

// ErrTooLarge is the error of an upload above its limit.
var ErrTooLarge = words.Fault("error.store.large", nil)

// ErrDiskFull is the error of a full disk. What was kept before is untouched.
var ErrDiskFull = words.Fault("error.store.full", nil)

// InUse is the error of a data folder that another desk has open.
type InUse struct {
	Dir string
	By  string // what that desk said of itself: its process and address
}

func (e *InUse) Error() string { return e.said().Error() }

// Unwrap gives the error that has words in each language.
func (e *InUse) Unwrap() error { return e.said() }

func (e *InUse) said() error {
	return words.Fault("error.store.in_use", words.Values{"dir": e.Dir, "by": lockfile.Holder(e.By)})
}

// explain turns what the database or the system says into the errors above.
func explain(err error) error {
	var lite sqlite3.Error
	switch {
	case err == nil:
		return nil
	case errors.Is(err, sql.ErrNoRows):
		return ErrNotFound
	case errors.Is(err, syscall.ENOSPC), errors.Is(err, syscall.EDQUOT):
		return words.Fault("error.store.full_of", words.Values{"why": ErrDiskFull, "cause": err})
	case errors.As(err, &lite) && (lite.Code == sqlite3.ErrFull || lite.SystemErrno == syscall.ENOSPC):
		return words.Fault("error.store.full_of", words.Values{"why": ErrDiskFull, "cause": err})
	}
	return err
}
