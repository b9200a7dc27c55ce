package store

import (
	"context"
	"database/sql"
	"errors"
	"io/fs"
	"os"
	"path/filepath"
	"time"

	"sitspan/cmd/sitspan/internal/proof"
	"sitspan/cmd/sitspan/internal/words"
)

// Check is a measurement of an imprint whose distance was known. It belongs to the shop and to no rider.
type Check struct {
	ID     int64
	MadeAt time.Time
	Medium string // foam or paper; empty where it could not be told
	Pad    string // the profile's name, or the medium
	Phone  string // EXIF's name of the model
	Print  string // the print's verification, as one text; empty for none
	Light  string // as the fitter noted it

	DistanceMM, DistanceU float64  // between the balls' centres, and its standard uncertainty
	DiameterMM            float64  // 0 where it was not given
	MeasuredMM            *float64 // nil where there is no number
	MeasuredU             *float64 // expanded, 95 %
	Accepted              bool     // measured, and the dents are a pair
	Verdict               string   // package proof's code
	LeftOut               string   // why a person left it out; empty where it counts
	Photos                []string // their files' names in the photo folder: SHA-256 and extension
}

// CheckPhoto is a photo's file to be kept with a check. The extension is told by its content.
type CheckPhoto struct {
	Path, Extension string
}

// AddCheck keeps a check with its photos. When it returns, they are on the disk.
func (s *Store) AddCheck(ctx context.Context, c Check, photos []CheckPhoto) (id int64, err error) {
	release, err := s.holdFiles()
	if err != nil {
		return 0, err
	}
	defer release()
	kept := make([]keptPhoto, len(photos))
	for i, p := range photos {
		if kept[i], err = s.keepFile(p); err != nil {
			return 0, err
		}
	}
	err = s.transact(ctx, func(tx *sql.Tx) error {
		r, err := tx.Exec(`INSERT INTO checks (made_at, medium, pad, phone, print, light, distance_mm,
			distance_u_mm,
			diameter_mm, measured_mm, measured_expanded_mm, accepted, verdict)
			VALUES (?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?)`, stamp(), c.Medium, c.Pad, c.Phone, c.Print, c.Light,
			c.DistanceMM, c.DistanceU, c.DiameterMM, c.MeasuredMM, c.MeasuredU, c.Accepted, c.Verdict)
		if err != nil {
			return err
		}
		if id, err = r.LastInsertId(); err != nil {
			return err
		}
		return addCheckPhotos(tx, id, kept)
	})
	return id, err
}

type keptPhoto struct {
	sum, extension string
	size           int64
}

func addCheckPhotos(tx *sql.Tx, id int64, photos []keptPhoto) error {
	for i, p := range photos {
		_, err := tx.Exec("INSERT INTO photos (sha256, extension, bytes) VALUES (?, ?, ?) ON CONFLICT DO NOTHING",
			p.sum, p.extension, p.size)
		if err != nil {
			return err
		}
		_, err = tx.Exec("INSERT INTO check_photos (check_id, position, sha256) VALUES (?, ?, ?)", id, i, p.sum)
		if err != nil {
			return err
		}
	}
	return nil
}

// keepFile copies a photo's file into the photo folder. One whose check is not kept after all is swept.
func (s *Store) keepFile(p CheckPhoto) (k keptPhoto, err error) {
	if !extensions[p.Extension] {
		return k, words.Fault("error.store.extension", words.Values{"text": p.Extension})
	}
	f, err := os.Open(p.Path)
	if err != nil {
		return k, err
	}
	defer f.Close()
	info, err := f.Stat()
	if err != nil {
		return k, err
	}
	temp, sum, size, err := s.receive(f, info.Size())
	if err != nil {
		return k, err
	}
	defer os.Remove(temp) // gone already where it was renamed
	return keptPhoto{sum, p.Extension, size}, s.place(temp, sum, p.Extension)
}

const checkColumns = `SELECT id, made_at, medium, pad, phone, print, light, distance_mm, distance_u_mm,
  diameter_mm,
	measured_mm, measured_expanded_mm, accepted, verdict, left_out FROM checks ORDER BY made_at, id`

func scanCheck(rows *sql.Rows) (c Check, err error) {
	var made int64
	err = rows.Scan(&c.ID, &made, &c.Medium, &c.Pad, &c.Phone, &c.Print, &c.Light, &c.DistanceMM, &c.DistanceU,
		&c.DiameterMM, &c.MeasuredMM, &c.MeasuredU, &c.Accepted, &c.Verdict, &c.LeftOut)
	c.MadeAt = fromStamp(made)
	return c, err
}

// Checks are all checks, the oldest first.
func (s *Store) Checks(ctx context.Context) ([]Check, error) { return checksOf(ctx, s.db) }

func checksOf(ctx context.Context, db *sql.DB) ([]Check, error) {
	return list(ctx, db, scanCheck, func(c *Check) (err error) {
		c.Photos, err = list(ctx, db, func(rows *sql.Rows) (name string, err error) {
			err = rows.Scan(&name)
			return name, err
		}, nil, `SELECT p.sha256 || p.extension FROM check_photos c JOIN photos p ON p.sha256 = c.sha256
			WHERE c.check_id = ? ORDER BY c.position`, c.ID)
		return err
	}, checkColumns)
}

// ChecksIn are the checks of a data folder, also while a desk has it open; none where there is no folder, or
// where its database is older than checks are. Nothing is made or changed.
func ChecksIn(ctx context.Context, dir string) ([]Check, error) {
	if _, err := os.Stat(filepath.Join(dir, fileName)); errors.Is(err, fs.ErrNotExist) {
		return nil, nil
	}
	db, err := openDatabase(dir, "rw") // SQLite's log may need a reader that can write
	if err != nil {
		return nil, words.Fault("error.of_file", words.Values{"file": dir, "why": explain(err)})
	}
	defer db.Close()
	var version int
	if err := db.QueryRow("PRAGMA user_version").Scan(&version); err != nil {
		return nil, explain(err)
	}
	const checksFrom = 5
	if version < checksFrom {
		return nil, nil
	}
	return checksOf(ctx, db)
}

// KeptIn is ChecksIn, as package proof counts with them.
func KeptIn(ctx context.Context, dir string) ([]proof.Kept, error) {
	list, err := ChecksIn(ctx, dir)
	return keptOf(list), err
}

// Kept is Checks, as package proof counts with them.
func (s *Store) Kept(ctx context.Context) ([]proof.Kept, error) {
	list, err := s.Checks(ctx)
	return keptOf(list), err
}

func keptOf(list []Check) []proof.Kept {
	kept := make([]proof.Kept, len(list))
	for i, c := range list {
		kept[i] = c.Kept()
	}
	return kept
}

// Kept is the check as package proof counts with it.
func (c Check) Kept() proof.Kept {
	number := c.MeasuredMM != nil && c.MeasuredU != nil
	k := proof.Kept{
		ID: c.ID, MadeAt: c.MadeAt, Of: proof.Setting{Pad: c.Pad, Phone: c.Phone, Print: c.Print},
		Verdict: proof.Verdict(c.Verdict), Counts: c.Accepted && c.LeftOut == "" && number,
		Check: proof.Check{DistanceMM: c.DistanceMM, DistanceU: c.DistanceU, DiameterMM: c.DiameterMM},
	}
	if number {
		k.MeasuredMM, k.MeasuredU = *c.MeasuredMM, *c.MeasuredU
	}
	return k
}

// LeaveOutCheck says that a check is not to count, and why; an empty why lets it count again.
func (s *Store) LeaveOutCheck(ctx context.Context, id int64, why string) error {
	return explain(oneRow(s.db.ExecContext(ctx, "UPDATE checks SET left_out = ? WHERE id = ?", why, id)))
}

// PhotoIn is where a check's photo lies in a data folder, by its name in Check.Photos.
func PhotoIn(dir, name string) string { return filepath.Join(dir, photoDir, name) }
