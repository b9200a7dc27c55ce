package store

import (
	"database/sql"
	"errors"
	"os"
	"path/filepath"

	"sitspan/cmd/sitspan/internal/lockfile"
	"sitspan/cmd/sitspan/internal/words"
)

// Opening is what says of itself that it lets the folder go in a moment, or says then where it answers.
const Opening = "which is opening"

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

// SayWho changes what a second desk on the same folder is told.
func (s *Store) SayWho(who string) error { return explain(lockfile.Say(s.lock, who)) }

// filesLockName is the lock that is held while photos' files and their rows change together, by whatever
// process does so.
const filesLockName = "files.lock"

// holdFiles keeps everybody else, in this process and in others, from changing photos' files until release.
func (s *Store) holdFiles() (release func(), err error) {
	s.files.Lock()
	lock, err := lockfile.Wait(filepath.Join(s.dir, filesLockName))
	if err != nil {
		s.files.Unlock()
		return nil, words.Fault("error.store.photo_lock", words.Values{"why": explain(err)})
	}
	return func() { lock.Close(); s.files.Unlock() }, nil
}

// OpenForChecks opens a data folder for its checks alone, also while a desk has it open, and makes it where
// there is none. It keeps no desk from opening.
func OpenForChecks(dir string) (*Store, error) {
	s, err := Open(dir, Opening)
	var other *InUse
	if err != nil && !errors.As(err, &other) {
		return nil, err
	}
	if err == nil {
		if err := s.Close(); err != nil {
			return nil, err
		}
	}
	s = &Store{dir: dir}
	if s.db, err = openDatabase(dir, "rw"); err == nil {
		err = sameSchema(s.db)
	}
	if err != nil {
		s.Close()
		return nil, words.Fault("error.of_file", words.Values{"file": dir, "why": err})
	}
	return s, nil
}

// sameSchema refuses the data of a desk of another version, which is open.
func sameSchema(db *sql.DB) error {
	var at int
	if err := db.QueryRow("PRAGMA user_version").Scan(&at); err != nil {
		return explain(err)
	}
	if at != len(migrations) {
		return words.Fault("error.store.other_version", words.Values{"at": at, "known": len(migrations)})
	}
	return nil
}
