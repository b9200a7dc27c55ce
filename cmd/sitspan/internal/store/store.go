package store

import (
	"context"
	"database/sql"
	"errors"
	"io/fs"
	"net/url"
	"os"
	"path/filepath"
	"strings"
	"sync"
	"time"

	"sitspan/cmd/sitspan/internal/words"
)

// The names in a data folder.
const (
	fileName     = "sitspan.db"
	photoDir     = "photos"
	incomingDir  = "incoming"
	lockFileName = "desk.lock"
)

// Store is an open data folder. It is safe for concurrent use.
type Store struct {
	dir  string
	db   *sql.DB
	lock *os.File
	// files is held while a photo's file and its row change together.
	files sync.Mutex
	parts sync.Mutex // held while a part of an upload is added
}

// DefaultDir is the data folder where none is named: sitspan in XDG_DATA_HOME
// (XDG Base Directory Specification 0.8), or in ~/.local/share.
func DefaultDir() (string, error) {
	if d := os.Getenv("XDG_DATA_HOME"); filepath.IsAbs(d) {
		return filepath.Join(d, "sitspan"), nil
	}
	home, err := os.UserHomeDir()
	if err != nil {
		return "", words.Fault("error.store.no_home", words.Values{"why": err})
	}
	return filepath.Join(home, ".local", "share", "sitspan"), nil
}

// Open opens a data folder and makes it where there is none. who is what a
// second desk on the same folder is told, in its *InUse error.
func Open(dir, who string) (*Store, error) {
	for _, d := range []string{dir, filepath.Join(dir, photoDir), filepath.Join(dir, incomingDir)} {
		if err := os.MkdirAll(d, 0o700); err != nil {
			return nil, words.Fault("error.store.folder", words.Values{"why": explain(err)})
		}
	}
	lock, err := takeLock(dir, who)
	if err != nil {
		return nil, err
	}
	s := &Store{dir: dir, lock: lock}
	if s.db, err = openDatabase(dir, "rwc"); err == nil {
		err = migrate(s.db, len(migrations))
	}
	if err == nil {
		err = s.sweep()
	}
	if err != nil {
		s.Close()
		return nil, words.Fault("error.of_file", words.Values{"file": dir, "why": err})
	}
	return s, nil
}

// openDatabase opens the file: a commit is on the disk when it returns
// (synchronous FULL), and what is deleted is overwritten.
func openDatabase(dir, mode string) (*sql.DB, error) {
	path, err := filepath.Abs(filepath.Join(dir, fileName))
	if err != nil {
		return nil, err
	}
	if _, err := os.Stat(path); err != nil && !errors.Is(err, fs.ErrNotExist) {
		return nil, err // the database would say it in words of its own
	}
	options := url.Values{
		"mode": {mode}, "_foreign_keys": {"on"}, "_journal_mode": {"WAL"}, "_synchronous": {"FULL"},
		"_busy_timeout": {"10000"}, "_txlock": {"immediate"}, "_secure_delete": {"on"},
	}
	db, err := sql.Open(driverName, (&url.URL{Scheme: "file", Path: path, RawQuery: options.Encode()}).String())
	if err != nil {
		return nil, err
	}
	db.SetMaxOpenConns(4)
	if err := db.Ping(); err != nil {
		return db, explain(err)
	}
	return db, os.Chmod(path, 0o600)
}

// Close lets the folder go.
func (s *Store) Close() error {
	var err error
	if s.db != nil {
		err = s.db.Close()
	}
	if s.lock != nil {
		s.lock.Close()
	}
	return err
}

// Dir is the data folder.
func (s *Store) Dir() string { return s.dir }

// sweep removes uploads that were never confirmed, and files of photos whose
// rows are gone. No other desk has the folder open, and no check is being kept.
func (s *Store) sweep() error {
	release, err := s.holdFiles()
	if err != nil {
		return err
	}
	defer release()
	incoming := filepath.Join(s.dir, incomingDir)
	if err := removeEntries(incoming, s.isOld); err != nil {
		return err
	}
	for _, what := range []string{"backup-*", "restore-*"} { // folders of a process that was killed
		left, err := filepath.Glob(filepath.Join(incoming, what))
		if err != nil {
			return err
		}
		for _, dir := range left {
			if err := os.RemoveAll(dir); err != nil {
				return err
			}
		}
	}
	kept := map[string]bool{}
	rows, err := s.db.Query("SELECT sha256 || extension FROM photos")
	if err != nil {
		return explain(err)
	}
	defer rows.Close()
	for rows.Next() {
		var name string
		if err := rows.Scan(&name); err != nil {
			return explain(err)
		}
		kept[name] = true
	}
	if err := rows.Err(); err != nil {
		return explain(err)
	}
	return removeEntries(filepath.Join(s.dir, photoDir), func(name string) bool {
		return !kept[name] &&
			ours(name)
	})
}

// ours tells a photo's file name, so that a file that somebody laid there stays.
func ours(name string) bool {
	hash, _, found := strings.Cut(name, ".")
	return found && isHash(hash)
}

func isHash(s string) bool {
	return len(s) == 64 && strings.Trim(s, "0123456789abcdef") == ""
}

func removeEntries(dir string, unwanted func(name string) bool) error {
	entries, err := os.ReadDir(dir)
	if err != nil {
		return err
	}
	for _, e := range entries {
		if e.Type()&fs.ModeDir == 0 && unwanted(e.Name()) {
			if err := os.Remove(filepath.Join(dir, e.Name())); err != nil {
				return err
			}
		}
	}
	return nil
}

// transact runs f in a transaction: all of it is kept, or nothing.
func (s *Store) transact(ctx context.Context, f func(*sql.Tx) error) error {
	tx, err := s.db.BeginTx(ctx, nil)
	if err != nil {
		return explain(err)
	}
	if err := f(tx); err != nil {
		tx.Rollback()
		return explain(err)
	}
	return explain(tx.Commit())
}

// now is the clock, for tests.
var now = time.Now

func stamp() int64 { return now().UnixMilli() }

func fromStamp(ms int64) time.Time { return time.UnixMilli(ms) }
