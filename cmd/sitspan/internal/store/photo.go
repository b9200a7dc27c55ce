package store

import (
	"bytes"
	"context"
	"crypto/sha256"
	"database/sql"
	"encoding/hex"
	"errors"
	"io"
	"os"
	"path/filepath"
	"time"

	"sitspan/cmd/sitspan/internal/words"
)

// Shot is a photo of a visit.
type Shot struct {
	ID, VisitID int64
	SHA256      string // of the file that is kept
	Original    string // of the photo as it came: another one once what measuring does not need is gone
	Extension   string // ".jpg"; told by the content
	Bytes       int64
	Name        string // as it was called where it came from
	Via         string // desk or phone
	Sitting     int
	ReceivedAt  time.Time
	LeftOut     bool // not to be used
	Covered     bool // a card's face was painted over
	Again       bool // AddPhoto was given what the visit has already
}

// NoPicture is the extension where only the name, size and hash are kept of a file that gave no picture.
const NoPicture = ".txt"

// extensions are those of the formats that photos have.
var extensions = map[string]bool{".jpg": true, ".png": true, ".tif": true, ".webp": true, ".heic": true,
	NoPicture: true}

// AddPhoto keeps a photo of at most limit bytes for a visit's present sitting.
// When it returns, the photo is on the disk. The same photo sent twice is one.
// extension comes from the content, never from outside.
func (s *Store) AddPhoto(ctx context.Context, visitID int64, name, via, extension string, r io.Reader,
	limit int64) (Shot, error) {
	if !extensions[extension] {
		return Shot{}, words.Fault("error.store.extension", words.Values{"text": extension})
	}
	temp, sum, size, err := s.receive(r, limit)
	if err != nil {
		return Shot{}, err
	}
	defer os.Remove(temp) // gone already where it was renamed
	release, err := s.holdFiles()
	if err != nil {
		return Shot{}, err
	}
	defer release()
	// Before its file is placed: what was painted over must not come back.
	if known, err := s.again(ctx, visitID, sum); !errors.Is(err, ErrNotFound) {
		return known, err
	}
	if err := s.place(temp, sum, extension); err != nil {
		return Shot{}, err
	}
	err = s.transact(ctx, func(tx *sql.Tx) error {
		if _,
			err := tx.Exec("INSERT INTO photos (sha256, extension, bytes) VALUES (?, ?, ?) ON CONFLICT DO NOTHING",
			sum, extension, size); err != nil {
			return err
		}
		_, err := tx.Exec(`INSERT INTO shots (visit_id, sha256, original, name, via, sitting, received_at)
			SELECT id, ?1, ?1, ?2, ?3, sitting, ?4 FROM visits WHERE id = ?5 ON CONFLICT DO NOTHING`, sum,
			filepath.Base(name), via, stamp(), visitID)
		return err
	})
	if err != nil {
		return Shot{}, err
	}
	return s.oneShot(ctx, sameShot, visitID, sum)
}

// Uncover takes away, for good, all pictures and sheets that show a shot's photo
// as it was: those of its records, and of the visit's joint ones. The pictures
// given stand in for its own records'.
func (s *Store) Uncover(ctx context.Context, shotID int64, pictures map[string][]byte) error {
	err := s.transact(ctx, func(tx *sql.Tx) error {
		const of = ` IN (SELECT r.id FROM records r JOIN shots s ON s.visit_id = r.visit_id
			WHERE s.id = ?1 AND (r.shot_id = s.id OR r.shot_id IS NULL))`
		for _, query := range []string{"DELETE FROM pictures WHERE record_id" + of,
			"DELETE FROM sheets WHERE record_id" + of} {
			if _, err := tx.Exec(query, shotID); err != nil {
				return err
			}
		}
		for kind, jpeg := range pictures {
			if _, err := tx.Exec("INSERT INTO pictures (record_id, kind, jpeg) SELECT id, ?, ? FROM records WHERE "+
				"shot_id = ?", kind, jpeg, shotID); err != nil {
				return err
			}
		}
		return nil
	})
	if err != nil {
		return err
	}
	return s.vacuum(ctx)
}

// ReplacePhoto puts another file in the place of a shot's, for good: what it held must not be kept. covered
// says that a card's face was painted over. Records speak of the hash of the photo as it came.
func (s *Store) ReplacePhoto(ctx context.Context, shotID int64, extension string, content []byte,
	covered bool) error {
	if !extensions[extension] {
		return words.Fault("error.store.extension", words.Values{"text": extension})
	}
	temp, sum, size, err := s.receive(bytes.NewReader(content), int64(len(content)))
	if err != nil {
		return err
	}
	defer os.Remove(temp) // gone already where it was renamed
	release, err := s.holdFiles()
	if err != nil {
		return err
	}
	defer release()
	if err := s.place(temp, sum, extension); err != nil {
		return err
	}
	var names []string
	err = s.transact(ctx, func(tx *sql.Tx) error {
		if _,
			err := tx.Exec("INSERT INTO photos (sha256, extension, bytes) VALUES (?, ?, ?) ON CONFLICT DO NOTHING",
			sum, extension, size); err != nil {
			return err
		}
		if err := oneRow(tx.Exec("UPDATE shots SET sha256 = ?, covered = covered OR ? WHERE id = ?", sum,
			covered, shotID)); err != nil {
			return err
		}
		names, err = orphans(tx)
		return err
	})
	if err != nil {
		return err
	}
	return s.removePhotos(names)
}

// removePhotos takes files away whose rows are gone.
func (s *Store) removePhotos(names []string) error {
	dir := filepath.Join(s.dir, photoDir)
	for _, name := range names {
		if err := os.Remove(filepath.Join(dir, name)); err != nil && !os.IsNotExist(err) {
			return err
		}
	}
	return syncDir(dir)
}

// TempFile makes a file for passing use. The caller removes it; what a process
// that was killed left behind is swept when the store opens.
func (s *Store) TempFile() (*os.File, error) {
	f, err := os.CreateTemp(filepath.Join(s.dir, incomingDir), "temp-*")
	return f, explain(err)
}

// receive writes an upload to the incoming folder and flushes it.
func (s *Store) receive(r io.Reader, limit int64) (path, sum string, size int64, err error) {
	f, err := os.CreateTemp(filepath.Join(s.dir, incomingDir), "upload-*")
	if err != nil {
		return "", "", 0, explain(err)
	}
	defer func() {
		f.Close()
		if err != nil {
			os.Remove(f.Name())
		}
	}()
	hash := sha256.New()
	size, err = io.Copy(io.MultiWriter(f, hash), io.LimitReader(r, limit+1))
	if err == nil && size > limit {
		err = ErrTooLarge
	}
	if err == nil && size == 0 {
		err = words.Fault("error.store.empty", nil)
	}
	if err == nil {
		err = f.Sync()
	}
	return f.Name(), hex.EncodeToString(hash.Sum(nil)), size, explain(err)
}

// place renames an upload to its place and flushes the folder's entry.
func (s *Store) place(temp, sum, extension string) error {
	dir := filepath.Join(s.dir, photoDir)
	if err := os.Rename(temp, filepath.Join(dir, sum+extension)); err != nil {
		return explain(err)
	}
	return syncDir(dir)
}

func syncDir(dir string) error {
	d, err := os.Open(dir)
	if err != nil {
		return explain(err)
	}
	defer d.Close()
	return explain(d.Sync())
}

// PhotoPath is where a shot's file lies.
func (s *Store) PhotoPath(shot Shot) string {
	return filepath.Join(s.dir, photoDir, shot.SHA256+shot.Extension)
}

// sameShot tells a photo that the visit has already, as it came or as it is kept.
const sameShot = "s.visit_id = ?1 AND ?2 IN (s.original, s.sha256)"

// again is a photo that the visit has already. One that was put aside is taken back.
func (s *Store) again(ctx context.Context, visitID int64, sum string) (Shot, error) {
	_, err := s.db.ExecContext(ctx, "UPDATE shots AS s SET aside_at = 0 WHERE "+sameShot, visitID, sum)
	if err != nil {
		return Shot{}, explain(err)
	}
	shot, err := s.oneShot(ctx, sameShot, visitID, sum)
	shot.Again = true
	return shot, err
}

const shotColumns = `SELECT s.id, s.visit_id, s.sha256, s.original, p.extension, p.bytes, s.name, s.via,
  s.sitting, s.received_at, s.left_out, s.covered
	FROM shots s JOIN photos p ON p.sha256 = s.sha256 JOIN visits v ON v.id = s.visit_id
	WHERE s.aside_at = 0 AND v.aside_at = 0 AND `

func scanShot(row interface{ Scan(...any) error }) (t Shot, err error) {
	var received int64
	err = row.Scan(&t.ID, &t.VisitID, &t.SHA256, &t.Original, &t.Extension, &t.Bytes, &t.Name, &t.Via,
		&t.Sitting, &received, &t.LeftOut, &t.Covered)
	t.ReceivedAt = fromStamp(received)
	return t, explain(err)
}

func (s *Store) oneShot(ctx context.Context, where string, args ...any) (Shot, error) {
	return scanShot(s.db.QueryRowContext(ctx, shotColumns+where, args...))
}

// Shot gives one photo.
func (s *Store) Shot(ctx context.Context, id int64) (Shot, error) {
	return s.oneShot(ctx, "s.id = ?", id)
}

func (s *Store) shots(ctx context.Context, where string, args ...any) ([]Shot, error) {
	return list(ctx, s.db, func(rows *sql.Rows) (Shot, error) { return scanShot(rows) }, nil,
		shotColumns+where+" ORDER BY s.id", args...)
}

// Shots gives a visit's photos in the order in which they came.
func (s *Store) Shots(ctx context.Context, visitID int64) ([]Shot, error) {
	return s.shots(ctx, "s.visit_id = ?", visitID)
}

// Unmeasured gives the photos that have no record yet: those that a process
// which was ended had in hand.
func (s *Store) Unmeasured(ctx context.Context) ([]Shot, error) {
	return s.shots(ctx, "NOT EXISTS (SELECT 1 FROM records r WHERE r.shot_id = s.id)")
}

// LeaveOut says whether a photo is not to be used.
func (s *Store) LeaveOut(ctx context.Context, shotID int64, out bool) error {
	return explain(oneRow(s.db.ExecContext(ctx, "UPDATE shots SET left_out = ? WHERE id = ?", out, shotID)))
}

// Receive writes a file for passing use, flushed, and gives its SHA-256. The caller removes it; what a
// process that was killed left behind is swept when the store opens.
func (s *Store) Receive(r io.Reader, limit int64) (path, sha256 string, err error) {
	path, sha256, _, err = s.receive(r, limit)
	return path, sha256, err
}
