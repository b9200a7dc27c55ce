package store

import (
	"database/sql"
	"fmt"

	"sitspan/cmd/sitspan/internal/words"
)

// migrations bring a database from the version that is their index to the next.
// One that was released is never edited: testdata holds a file of each version.
var migrations = []string{
	// 1: riders, their visits, photos and records. Times are Unix milliseconds.
	`CREATE TABLE riders (
		id INTEGER PRIMARY KEY, alias TEXT NOT NULL UNIQUE COLLATE NOCASE, made_at INTEGER NOT NULL) STRICT;
	CREATE TABLE visits (
		id INTEGER PRIMARY KEY, rider_id INTEGER NOT NULL REFERENCES riders(id) ON DELETE CASCADE,
		made_at INTEGER NOT NULL, mass_kg REAL NOT NULL DEFAULT 0, complaints TEXT NOT NULL DEFAULT '[]',
		note TEXT NOT NULL DEFAULT '', setup TEXT NOT NULL DEFAULT '{}', sitting INTEGER NOT NULL DEFAULT 1,
		current_record INTEGER REFERENCES records(id) ON DELETE SET NULL) STRICT;
	CREATE INDEX visits_by_rider ON visits(rider_id, made_at);
	CREATE TABLE bikes (
		visit_id INTEGER NOT NULL REFERENCES visits(id) ON DELETE CASCADE, position INTEGER NOT NULL,
		name TEXT NOT NULL, bike_use TEXT NOT NULL, posture TEXT NOT NULL, PRIMARY KEY (visit_id, position)) STRICT;
	CREATE TABLE photos (
		sha256 TEXT PRIMARY KEY, extension TEXT NOT NULL, bytes INTEGER NOT NULL) STRICT;
	CREATE TABLE shots (
		id INTEGER PRIMARY KEY, visit_id INTEGER NOT NULL REFERENCES visits(id) ON DELETE CASCADE,
		sha256 TEXT NOT NULL REFERENCES photos(sha256), name TEXT NOT NULL, via TEXT NOT NULL,
		sitting INTEGER NOT NULL, received_at INTEGER NOT NULL, left_out INTEGER NOT NULL DEFAULT 0,
		UNIQUE (visit_id, sha256)) STRICT;
	CREATE TABLE records (
		id INTEGER PRIMARY KEY, visit_id INTEGER NOT NULL REFERENCES visits(id) ON DELETE CASCADE,
		shot_id INTEGER REFERENCES shots(id) ON DELETE CASCADE, kind TEXT NOT NULL,
		made_at INTEGER NOT NULL, json TEXT NOT NULL) STRICT;
	CREATE INDEX records_by_visit ON records(visit_id);
	CREATE TABLE reviews (
		id INTEGER PRIMARY KEY, record_id INTEGER NOT NULL REFERENCES records(id) ON DELETE CASCADE,
		made_at INTEGER NOT NULL, json TEXT NOT NULL) STRICT;
	CREATE TABLE pictures (
		record_id INTEGER NOT NULL REFERENCES records(id) ON DELETE CASCADE, kind TEXT NOT NULL,
		jpeg BLOB NOT NULL, PRIMARY KEY (record_id, kind)) STRICT;`,
	// 2: sheets, with the record as it was printed.
	`CREATE TABLE sheets (
		id INTEGER PRIMARY KEY, visit_id INTEGER NOT NULL REFERENCES visits(id) ON DELETE CASCADE,
		record_id INTEGER NOT NULL REFERENCES records(id) ON DELETE CASCADE, made_at INTEGER NOT NULL,
		lang TEXT NOT NULL, json TEXT NOT NULL, pdf BLOB NOT NULL) STRICT;
	CREATE INDEX sheets_by_visit ON sheets(visit_id);`,
	// 3: a photo's hash as it came, which stays when a card's face is painted over in its file.
	`ALTER TABLE shots ADD COLUMN original TEXT NOT NULL DEFAULT '';
	UPDATE shots SET original = sha256;
	CREATE UNIQUE INDEX shots_by_original ON shots(visit_id, original);`,
	// 4: a visit says how often it was saved, so that two windows do not overwrite each other; a review can be
	// taken back.
	`ALTER TABLE visits ADD COLUMN version INTEGER NOT NULL DEFAULT 1;
	ALTER TABLE reviews ADD COLUMN withdrawn_at INTEGER NOT NULL DEFAULT 0;`,
	// 5: checks with a known distance, and their photos. A measured_mm of NULL is a measurement without a
	// number.
	`CREATE TABLE checks (
		id INTEGER PRIMARY KEY, made_at INTEGER NOT NULL, medium TEXT NOT NULL, pad TEXT NOT NULL,
		phone TEXT NOT NULL, print TEXT NOT NULL, light TEXT NOT NULL, distance_mm REAL NOT NULL,
		distance_u_mm REAL NOT NULL, diameter_mm REAL NOT NULL, measured_mm REAL, measured_expanded_mm REAL,
		accepted INTEGER NOT NULL, verdict TEXT NOT NULL, left_out TEXT NOT NULL DEFAULT '') STRICT;
	CREATE TABLE check_photos (
		check_id INTEGER NOT NULL REFERENCES checks(id) ON DELETE CASCADE, position INTEGER NOT NULL,
		sha256 TEXT NOT NULL REFERENCES photos(sha256), PRIMARY KEY (check_id, position)) STRICT;`,
	// 6: what is said of a bike's saddles: the one so far, the one taken, the ride test. And whether a card's
	// face was painted over in a photo: its file is also another one where only its place and owner went.
	`ALTER TABLE bikes ADD COLUMN saddle TEXT NOT NULL DEFAULT '{}';
	ALTER TABLE shots ADD COLUMN covered INTEGER NOT NULL DEFAULT 0;
	UPDATE shots SET covered = sha256 <> original;`,
	// 7: visits, photos and sheets are put aside before they are deleted, so that it can be undone. 0 is not.
	`ALTER TABLE visits ADD COLUMN aside_at INTEGER NOT NULL DEFAULT 0;
	ALTER TABLE shots ADD COLUMN aside_at INTEGER NOT NULL DEFAULT 0;
	ALTER TABLE sheets ADD COLUMN aside_at INTEGER NOT NULL DEFAULT 0;`,
	// 8: a photo that is put aside knows which record counted then, so that taking it back brings that, too. 0
	// is none.
	`ALTER TABLE shots ADD COLUMN counted INTEGER NOT NULL DEFAULT 0;`,
}

// Schema is the version of the database that this program writes.
func Schema() int { return len(migrations) }

// migrate brings the database to version, a step a transaction.
func migrate(db *sql.DB, version int) error {
	var at int
	if err := db.QueryRow("PRAGMA user_version").Scan(&at); err != nil {
		return explain(err)
	}
	if at > len(migrations) {
		return words.Fault("error.store.newer", words.Values{"schema": at, "known": len(migrations)})
	}
	for ; at < version; at++ {
		tx, err := db.Begin()
		if err != nil {
			return explain(err)
		}
		_, err = tx.Exec(migrations[at] + fmt.Sprintf("; PRAGMA user_version = %d", at+1))
		if err == nil {
			err = tx.Commit()
		}
		if err != nil {
			tx.Rollback()
			return words.Fault("error.store.upgrade", words.Values{"schema": at + 1, "why": explain(err)})
		}
	}
	return nil
}
