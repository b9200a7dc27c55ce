package store

import (
	"context"
	"database/sql"
	"errors"
	"io"
	"io/fs"
	"os"
	"path/filepath"

	"sitspan/cmd/sitspan/internal/words"
)

// BackUp copies a data folder to a new folder, which may be done while a desk
// has it open: the database's copy is one moment's state (SQLite's VACUUM INTO),
// and the photos are those of that state. The copy is a data folder itself. It
// appears whole or not at all.
func BackUp(ctx context.Context, dir, to string) (photos int, err error) {
	if _, err := os.Stat(filepath.Join(dir, fileName)); err != nil {
		return 0, words.Fault("error.store.none", words.Values{"dir": dir})
	}
	if _, err := os.Lstat(to); !errors.Is(err, fs.ErrNotExist) {
		return 0, words.Fault("error.there_already", words.Values{"path": to})
	}
	temp, err := os.MkdirTemp(filepath.Dir(filepath.Clean(to)), ".sitspan-backup-*")
	if err != nil {
		return 0, explain(err)
	}
	defer os.RemoveAll(temp) // gone already where it was renamed
	if photos, err = copyInto(ctx, dir, temp); err != nil {
		return 0, words.Fault("error.store.backup", words.Values{"why": explain(err)})
	}
	return photos, explain(os.Rename(temp, to))
}

func copyInto(ctx context.Context, dir, to string) (int, error) {
	db, err := openDatabase(dir, "rw")
	if err != nil {
		return 0, err
	}
	defer db.Close()
	file := filepath.Join(to, fileName)
	if _, err := db.ExecContext(ctx, "VACUUM INTO ?", file); err != nil {
		return 0, err
	}
	if err := errors.Join(os.Chmod(file, 0o600), syncFile(file),
		os.Mkdir(filepath.Join(to, photoDir), 0o700)); err != nil {
		return 0, err
	}
	names, err := photoNames(ctx, to)
	if err != nil {
		return 0, err
	}
	for _, name := range names {
		if err := copyFile(filepath.Join(dir, photoDir, name), filepath.Join(to, photoDir, name)); err != nil {
			return 0, err
		}
	}
	return len(names), syncDir(to)
}

// photoNames are the photos that a copy of the database speaks of.
func photoNames(ctx context.Context, dir string) ([]string, error) {
	db, err := openDatabase(dir, "rw")
	if err != nil {
		return nil, err
	}
	defer db.Close()
	names, err := list(ctx, db, func(rows *sql.Rows) (name string, err error) {
		err = rows.Scan(&name)
		return name, err
	}, nil, "SELECT sha256 || extension FROM photos ORDER BY 1")
	if err != nil {
		return nil, err
	}
	_, err = db.ExecContext(ctx, "PRAGMA journal_mode = DELETE") // one file, without a log beside it
	return names, err
}

func copyFile(from, to string) error {
	in, err := os.Open(from)
	if err != nil {
		return err
	}
	defer in.Close()
	out, err := os.OpenFile(to, os.O_WRONLY|os.O_CREATE|os.O_EXCL, 0o600)
	if err != nil {
		return err
	}
	_, err = io.Copy(out, in)
	return errors.Join(err, out.Sync(), out.Close())
}

func syncFile(path string) error {
	f, err := os.OpenFile(path, os.O_RDWR, 0)
	if err != nil {
		return err
	}
	return errors.Join(f.Sync(), f.Close())
}
