package store

import (
	"errors"
	"fmt"
	"os"
	"path/filepath"

	"sitspan/cmd/sitspan/internal/lockfile"
)

// takeLock takes the folder for this process.
func takeLock(dir, who string) (*os.File, error) {
	f, err := lockfile.Take(filepath.Join(dir, lockFileName), who)
	held := (*lockfile.Held)(nil)
	switch {
	case errors.As(err, &held):
		return nil, &InUse{dir, held.By}
	case errors.Is(err, lockfile.ErrUnable):
		return nil, fmt.Errorf("the data folder cannot be locked (%w): use a folder on this computer's own disk",
			err)
	case err != nil:
		return nil, fmt.Errorf("the data folder's lock: %w", explain(err))
	}
	return f, nil
}

// SayWho changes what a second desk on the same folder is told.
func (s *Store) SayWho(who string) error { return explain(lockfile.Say(s.lock, who)) }
