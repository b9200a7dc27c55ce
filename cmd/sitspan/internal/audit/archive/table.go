package archive

import (
	"database/sql"
	"encoding/json"
	"errors"
	"fmt"
	"iter"
	"net/url"
	"os"
	"path/filepath"
	"strings"
	"syscall"

	"github.com/mattn/go-sqlite3"

	"sitspan/cmd/sitspan/internal/words"
)

// scratchDir lies in the folder of results while an audit runs, and holds what
// would else grow in memory with the number of files.
const scratchDir = ".sorting"

// Scratch is a folder for what does not stay in memory.
type Scratch struct {
	dir    string
	tables []*sql.DB
}

// NewScratch begins with an empty folder: a kill may have left one behind.
func NewScratch(r Results) (*Scratch, error) {
	dir, err := filepath.Abs(r.Path(scratchDir))
	if err == nil {
		err = os.RemoveAll(dir)
	}
	if err == nil {
		err = os.MkdirAll(dir, 0o755)
	}
	if err != nil {
		return nil, words.Fault("error.audit.sort_folder", words.Values{"why": err})
	}
	return &Scratch{dir: dir}, nil
}

// Remove takes the folder away; what it held is of no use to another run.
func (s *Scratch) Remove() {
	for _, db := range s.tables {
		_ = db.Close()
	}
	_ = os.RemoveAll(s.dir)
}

// Table puts values in an order, stably, outside of memory: each is a line of JSON
// in an SQLite file, under the columns that it is sorted by. First all are added,
// then they are read, as often as is asked.
type Table[T any] struct {
	scratch *Scratch
	key     func(*T) []any
	db      *sql.DB
	tx      *sql.Tx // until the first reading
	insert  *sql.Stmt
	columns []string
	err     error // of sorting
}

// NewTable sorts by the columns of key, one after the other: numbers by size, text
// by its bytes, always as many. Without a key the values stay as they came.
func NewTable[T any](s *Scratch, key func(*T) []any) *Table[T] {
	if key == nil {
		key = func(*T) []any { return nil }
	}
	return &Table[T]{scratch: s, key: key}
}

// tablePragmas: a table that is lost in a crash is made again. SQLite sorts in
// 4 MB of memory, and beyond that in files of TMPDIR, or of /var/tmp.
const tablePragmas = "_journal_mode=OFF&_synchronous=OFF&_cache_size=-2000"

// tablePages are large, for a table is written and read from its beginning to its
// end; 250 of them are what SQLite sorts in memory at least.
const tablePages = "PRAGMA page_size = 16384"

// begin makes the table, with so many columns to sort by.
func (t *Table[T]) begin(columns int) (err error) {
	file := filepath.Join(t.scratch.dir, fmt.Sprintf("%03d.db", len(t.scratch.tables)))
	name := url.URL{Scheme: "file", OmitHost: true, Path: filepath.ToSlash(file), RawQuery: tablePragmas}
	if t.db, err = sql.Open("sqlite3", name.String()); err != nil {
		return err
	}
	t.scratch.tables = append(t.scratch.tables, t.db)
	t.db.SetMaxOpenConns(1) // until it is sorted: the size of pages is the connection's
	if _, err = t.db.Exec(tablePages); err != nil {
		return err
	}
	for i := range columns {
		t.columns = append(t.columns, fmt.Sprintf("key%d", i))
	}
	names := strings.Join(append([]string{"value"}, t.columns...), ", ")
	if t.tx, err = t.db.Begin(); err != nil {
		return err
	}
	if _, err = t.tx.Exec("CREATE TABLE added (at INTEGER PRIMARY KEY, " + names + ")"); err != nil {
		return err
	}
	marks := strings.Repeat(", ?", columns)
	t.insert, err = t.tx.Prepare("INSERT INTO added (" + names + ") VALUES (?" + marks + ")")
	return err
}

// Add adds a value. Nothing is added once the table was read.
func (t *Table[T]) Add(v T) error {
	key := t.key(&v)
	value, err := json.Marshal(&v)
	if err == nil && t.db == nil {
		err = t.begin(len(key))
	}
	if err == nil {
		_, err = t.insert.Exec(append([]any{value}, key...)...)
	}
	if err != nil {
		return notSorted(err)
	}
	return nil
}

// notSorted says what went wrong, and of a full disk in the person's words.
func notSorted(err error) error {
	var lite sqlite3.Error
	if errors.As(err, &lite) && (lite.Code == sqlite3.ErrFull || lite.SystemErrno == syscall.ENOSPC) {
		err = words.Fault("error.store.full", nil)
	}
	return words.Fault("error.audit.sorting", words.Values{"why": err})
}

// sort writes the values in their order, once.
func (t *Table[T]) sort() error {
	if t.tx == nil {
		return t.err
	}
	order := strings.Join(append(t.columns, "at"), ", ")
	_, err := t.tx.Exec("CREATE TABLE sorted (at INTEGER PRIMARY KEY, value)")
	if err == nil {
		_, err = t.tx.Exec("INSERT INTO sorted (value) SELECT value FROM added ORDER BY " + order)
	}
	if err == nil {
		_, err = t.tx.Exec("DROP TABLE added")
	}
	if err == nil {
		err = t.tx.Commit()
	}
	t.tx = nil
	t.db.SetMaxOpenConns(0)
	t.db.SetMaxIdleConns(-1) // each has a cache
	if err != nil {
		t.err = notSorted(err)
	}
	return t.err
}

// All gives the values in their order.
func (t *Table[T]) All() iter.Seq2[T, error] { return t.From(0) }

// From gives the values but the first n. An error is the last that it gives.
func (t *Table[T]) From(n int) iter.Seq2[T, error] {
	return func(yield func(T, error) bool) {
		var none T
		if err := t.sort(); err != nil {
			yield(none, err)
			return
		}
		if t.db == nil {
			return
		}
		rows, err := t.db.Query("SELECT value FROM sorted WHERE at > ? ORDER BY at", n)
		if err != nil {
			yield(none, notSorted(err))
			return
		}
		defer rows.Close()
		for rows.Next() {
			var v T
			var value sql.RawBytes
			err := rows.Scan(&value)
			if err == nil {
				err = json.Unmarshal(value, &v)
			}
			if err != nil {
				yield(none, notSorted(err))
				return
			}
			if !yield(v, nil) {
				return
			}
		}
		if err := rows.Err(); err != nil {
			yield(none, notSorted(err))
		}
	}
}
