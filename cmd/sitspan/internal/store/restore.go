package store

import (
	"archive/zip"
	"context"
	"crypto/sha256"
	"database/sql"
	"encoding/hex"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"maps"
	"os"
	"path"
	"path/filepath"
	"slices"
	"strings"
	"time"

	"sitspan/cmd/sitspan/internal/record"
	"sitspan/cmd/sitspan/internal/words"
)

// BackedUp is a back-up that was unpacked beside the data and read whole: everything in it holds.
type BackedUp struct {
	dir       string
	MadeAt    time.Time
	Riders    int
	Visits    int
	Photos    int
	Sheets    int
	Checks    int
	LastVisit time.Time
	Shop      []string // names of the shop's own files in it
}

// Close removes what was unpacked.
func (b *BackedUp) Close() error { return os.RemoveAll(b.dir) }

// ShopFile is where one of the shop's own files was unpacked.
func (b *BackedUp) ShopFile(name string) string { return filepath.Join(b.dir, "shop", name) }

// ErrDamaged is the error of a file that is no back-up, or no longer a whole one.
var ErrDamaged = words.Fault("error.store.damaged", nil)

// The bounds of a back-up's file: bytes in all when unpacked, of its database, and of one of the shop's
// files.
const (
	mostBackUpBytes   = 1 << 37
	mostDatabaseBytes = 1 << 34
	mostShopBytes     = 16 << 20
)

// ReadBackUp unpacks a back-up beside the data, and reads all of it back: each photo by its hash, the
// database by its own check, every record. What does not hold is ErrDamaged. Nothing of the data is
// changed.
func (s *Store) ReadBackUp(ctx context.Context, file io.ReaderAt, size int64) (*BackedUp, error) {
	z, err := zip.NewReader(file, size)
	if err != nil {
		return nil, ErrDamaged
	}
	b := &BackedUp{}
	if b.dir, err = os.MkdirTemp(filepath.Join(s.dir, incomingDir), "restore-*"); err != nil {
		return nil, explain(err)
	}
	if err := errors.Join(b.unpackAll(ctx, z), ctx.Err()); err != nil {
		return nil, errors.Join(err, b.Close())
	}
	if err := b.verify(ctx); err != nil {
		return nil, errors.Join(err, b.Close())
	}
	return b, nil
}

func (b *BackedUp) unpackAll(ctx context.Context, z *zip.Reader) error {
	for _, d := range []string{photoDir, "shop"} {
		if err := os.Mkdir(filepath.Join(b.dir, d), 0o700); err != nil {
			return explain(err)
		}
	}
	left := int64(mostBackUpBytes)
	for _, f := range z.File {
		if err := ctx.Err(); err != nil {
			return err
		}
		n, err := b.unpack(f, left)
		if err != nil {
			return err
		}
		left -= n
	}
	return nil
}

// unpack writes one file of the zip to its place. A name that is none of ours is damage.
func (b *BackedUp) unpack(f *zip.File, left int64) (int64, error) {
	most := left
	dir, name := path.Split(f.Name)
	switch {
	case f.Name == backUpNote:
		return 0, b.readNote(f)
	case f.Name == fileName:
		most = min(left, mostDatabaseBytes)
	case dir == photoDir+"/" && ours(name) && extensions[filepath.Ext(name)]:
	case dir == backUpShop && name != "" && filepath.IsLocal(name) && !strings.HasPrefix(name, "."):
		most = min(left, mostShopBytes)
		b.Shop = append(b.Shop, name)
	default:
		return 0, ErrDamaged
	}
	in, err := f.Open()
	if err != nil {
		return 0, ErrDamaged
	}
	defer in.Close()
	out, err := os.OpenFile(filepath.Join(b.dir, filepath.FromSlash(f.Name)), os.O_WRONLY|os.O_CREATE|os.O_EXCL,
		0o600)
	if err != nil {
		return 0, errors.Join(ErrDamaged, err) // twice in the zip
	}
	hash := sha256.New()
	n, err := io.Copy(io.MultiWriter(out, hash), io.LimitReader(in, most+1))
	if e := errors.Join(out.Sync(), out.Close()); e != nil {
		return n, explain(e)
	}
	switch {
	case errors.Is(explain(err), ErrDiskFull):
		return n, explain(err)
	case err != nil, n > most:
		return n, ErrDamaged
	case dir == photoDir+"/" && !strings.HasPrefix(name, hex.EncodeToString(hash.Sum(nil))+"."):
		return n, ErrDamaged // not the photo that it was
	}
	return n, nil
}

func (b *BackedUp) readNote(f *zip.File) error {
	in, err := f.Open()
	if err != nil {
		return ErrDamaged
	}
	defer in.Close()
	var n note
	if json.NewDecoder(io.LimitReader(in, 1<<16)).Decode(&n) != nil || n.Format != backUpFormat {
		return ErrDamaged
	}
	if n.Schema > Schema() {
		return words.Fault("error.store.newer_backup", nil)
	}
	b.MadeAt = n.MadeAt
	return nil
}

// verify reads the database and all that it speaks of.
func (b *BackedUp) verify(ctx context.Context) error {
	if b.MadeAt.IsZero() {
		return ErrDamaged
	}
	if _, err := os.Stat(filepath.Join(b.dir, fileName)); err != nil {
		return ErrDamaged
	}
	db, err := openDatabase(b.dir, "rw")
	if err != nil {
		return ErrDamaged
	}
	defer db.Close()
	var said string
	if err := db.QueryRowContext(ctx, "PRAGMA integrity_check").Scan(&said); err != nil || said != "ok" {
		return ErrDamaged
	}
	if err := migrate(db, len(migrations)); err != nil {
		return err
	}
	if err := db.QueryRowContext(ctx, "PRAGMA foreign_key_check").Scan(&said); !errors.Is(err, sql.ErrNoRows) {
		return ErrDamaged
	}
	if err := b.verifyPhotos(ctx, db); err != nil {
		return err
	}
	if err := verifyRecords(ctx, db); err != nil {
		return err
	}
	if err := b.count(ctx, db); err != nil {
		return err
	}
	_, err = db.ExecContext(ctx, "PRAGMA journal_mode = DELETE") // one file, without a log beside it
	return explain(err)
}

// count says what is in it.
func (b *BackedUp) count(ctx context.Context, db *sql.DB) error {
	var last int64
	err := db.QueryRowContext(ctx, `SELECT (SELECT count(*) FROM riders), (SELECT count(*) FROM visits WHERE
		aside_at = 0), (SELECT count(*) FROM photos), (SELECT count(*) FROM sheets WHERE aside_at = 0),
		(SELECT count(*) FROM checks), (SELECT coalesce(max(made_at), 0) FROM visits)`).Scan(&b.Riders, &b.Visits,
		&b.Photos, &b.Sheets, &b.Checks, &last)
	if last > 0 {
		b.LastVisit = fromStamp(last)
	}
	return explain(err)
}

// verifyPhotos asks for each photo that the database speaks of. Their hashes were read when they were
// unpacked.
func (b *BackedUp) verifyPhotos(ctx context.Context, db *sql.DB) error {
	type kept struct {
		name  string
		bytes int64
	}
	photos, err := list(ctx, db, func(rows *sql.Rows) (k kept, err error) {
		err = rows.Scan(&k.name, &k.bytes)
		return k, err
	}, nil, "SELECT sha256 || extension, bytes FROM photos")
	if err != nil {
		return err
	}
	for _, k := range photos {
		info, err := os.Stat(filepath.Join(b.dir, photoDir, k.name))
		if err != nil || info.Size() != k.bytes {
			return ErrDamaged
		}
	}
	return nil
}

// verifyRecords reads every record and every sheet's.
func verifyRecords(ctx context.Context, db *sql.DB) error {
	for _, query := range []string{"SELECT json FROM records", "SELECT json FROM sheets"} {
		rows, err := db.QueryContext(ctx, query)
		if err != nil {
			return explain(err)
		}
		for rows.Next() {
			var text string
			if err = rows.Scan(&text); err == nil {
				_, err = record.Parse([]byte(text))
			}
			if err != nil {
				rows.Close()
				return ErrDamaged
			}
		}
		if err := errors.Join(rows.Err(), rows.Close()); err != nil {
			return explain(err)
		}
	}
	return nil
}

// Restore puts a back-up in the place of the data: all rows in one transaction, and the photos before. Then
// it reads the data back, and compares. The caller keeps what was there before with WriteBackUp.
func (s *Store) Restore(ctx context.Context, b *BackedUp) error {
	release, err := s.holdFiles()
	if err != nil {
		return err
	}
	defer release()
	if err := s.placeAll(filepath.Join(b.dir, photoDir)); err != nil {
		return err
	}
	c, err := s.db.Conn(ctx)
	if err != nil {
		return explain(err)
	}
	defer c.Close()
	if _, err := c.ExecContext(ctx, "ATTACH ? AS old", filepath.Join(b.dir, fileName)); err != nil {
		return explain(err)
	}
	defer c.ExecContext(context.WithoutCancel(ctx), "DETACH old")
	var names []string
	if names, err = replaceRows(ctx, c); err != nil {
		return explain(err)
	}
	if err := s.compare(ctx, c); err != nil {
		return err
	}
	return s.removePhotos(names)
}

// placeAll moves photos into the photo folder. One that is there already is the same, by its hash.
func (s *Store) placeAll(from string) error {
	entries, err := os.ReadDir(from)
	if err != nil {
		return explain(err)
	}
	to := filepath.Join(s.dir, photoDir)
	for _, e := range entries {
		if err := os.Rename(filepath.Join(from, e.Name()), filepath.Join(to, e.Name())); err != nil {
			return explain(err)
		}
	}
	return syncDir(to)
}

// tablesOf are the tables of the database.
func tablesOf(ctx context.Context, c *sql.Conn) (names []string, err error) {
	rows, err := c.QueryContext(ctx,
		"SELECT name FROM sqlite_master WHERE type = 'table' AND name NOT LIKE 'sqlite_%'")
	if err != nil {
		return nil, err
	}
	defer rows.Close()
	for rows.Next() {
		var name string
		if err := rows.Scan(&name); err != nil {
			return nil, err
		}
		names = append(names, name)
	}
	return names, rows.Err()
}

// replaceRows puts the attached database's rows in the place of all that are there, in one transaction. It
// names the photos' files that nobody speaks of any more.
func replaceRows(ctx context.Context, c *sql.Conn) (names []string, err error) {
	tables, err := tablesOf(ctx, c)
	if err != nil {
		return nil, err
	}
	tx, err := c.BeginTx(ctx, nil)
	if err != nil {
		return nil, err
	}
	defer tx.Rollback() // nothing, where it was committed
	if _, err := tx.Exec("PRAGMA defer_foreign_keys = ON"); err != nil {
		return nil, err
	}
	before, err := photosIn(tx, "main")
	if err != nil {
		return nil, err
	}
	for _, t := range tables {
		if _, err := tx.Exec("DELETE FROM main." + t); err != nil {
			return nil, err
		}
	}
	for _, t := range tables {
		if _, err := tx.Exec(fmt.Sprintf("INSERT INTO main.%s SELECT * FROM old.%[1]s", t)); err != nil {
			return nil, err
		}
	}
	after, err := photosIn(tx, "main")
	if err != nil {
		return nil, err
	}
	maps.DeleteFunc(before, func(name string, _ bool) bool { return after[name] })
	return slices.Sorted(maps.Keys(before)), tx.Commit()
}

func photosIn(tx *sql.Tx, database string) (map[string]bool, error) {
	rows, err := tx.Query("SELECT sha256 || extension FROM " + database + ".photos")
	if err != nil {
		return nil, err
	}
	defer rows.Close()
	names := map[string]bool{}
	for rows.Next() {
		var name string
		if err := rows.Scan(&name); err != nil {
			return nil, err
		}
		names[name] = true
	}
	return names, rows.Err()
}

// compare reads the data back: each table's rows beside the back-up's, and each photo's file.
func (s *Store) compare(ctx context.Context, c *sql.Conn) error {
	tables, err := tablesOf(ctx, c)
	if err != nil {
		return explain(err)
	}
	for _, t := range tables {
		var differ int
		err := c.QueryRowContext(ctx, fmt.Sprintf(`SELECT (SELECT count(*) FROM (SELECT * FROM main.%s EXCEPT
			SELECT * FROM old.%[1]s)) + (SELECT count(*) FROM (SELECT * FROM old.%[1]s EXCEPT
			SELECT * FROM main.%[1]s))`, t)).Scan(&differ)
		if err != nil {
			return explain(err)
		}
		if differ > 0 {
			return words.Fault("error.store.unlike", nil)
		}
	}
	names, err := list(ctx, s.db, func(rows *sql.Rows) (name string, err error) {
		err = rows.Scan(&name)
		return name, err
	}, nil, "SELECT sha256 || extension FROM photos")
	if err != nil {
		return err
	}
	for _, name := range names {
		if err := sameHash(filepath.Join(s.dir, photoDir, name), name); err != nil {
			return err
		}
	}
	return nil
}

// sameHash reads a photo's file and compares it with its name.
func sameHash(path, name string) error {
	f, err := os.Open(path)
	if err != nil {
		return explain(err)
	}
	defer f.Close()
	hash := sha256.New()
	if _, err := io.Copy(hash, f); err != nil {
		return explain(err)
	}
	if !strings.HasPrefix(name, hex.EncodeToString(hash.Sum(nil))+".") {
		return words.Fault("error.store.unlike", nil)
	}
	return nil
}
