package store

import (
	"errors"
	"os"
	"path/filepath"

	"sitspan/cmd/sitspan/internal/lockfile"
	"sitspan/cmd/sitspan/internal/words"
)

// takeLock takes the folder for this process.
func takeLock(dir, who string) (*os.File, error) {
	f, err := lockfile.Take(filepath.Join(dir, lockFileName), who)
	held := (*lockfile.Held)(nil)
	switch {
	case errors.As(err, &held):
		return nil, &InUse{dir, held.By}
	case errors.Is(err, lockfile.ErrUnable):
		return nil, words.Fault("error.store.unlocked", words.Values{"why": err})
	case err != nil:
		return nil, words.Fault("error.store.lock", words.Values{"why": explain(err)})
	}
	return f, nil
}
