package store

import (
	"database/sql"
	"errors"
	"fmt"
	"syscall"

	"github.com/mattn/go-sqlite3"
)

// ErrNotFound is the error of what is not, or no longer, in the store.
var ErrNotFound = errors.New("this is not, or no longer, kept here")

// ErrChanged is the error of a change to something that somebody else has changed since it was read.
var ErrChanged = errors.New("this was changed meanwhile in another window: look at both and choose")

// ErrTooLarge is the error of an upload above its limit.
var ErrTooLarge = errors.New("the file is too large")

// ErrDiskFull is the error of a full disk. What was kept before is untouched.
var ErrDiskFull = errors.New("the disk is full: nothing was changed, what was kept before is untouched; " +
	"free some space and try again")

// InUse is the error of a data folder that another desk has open.
type InUse struct {
	Dir string
	By  string // what that desk said of itself: its process and address
}

func (e *InUse) Error() string {
	return fmt.Sprintf("another desk has the data in %s open (%s): use that one, end it first, or name "+
		"another folder with --data", e.Dir, e.By)
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
		return fmt.Errorf("%w (%v)", ErrDiskFull, err)
	case errors.As(err, &lite) && (lite.Code == sqlite3.ErrFull || lite.SystemErrno == syscall.ENOSPC):
		return fmt.Errorf("%w (%v)", ErrDiskFull, err)
	}
	return err
}
