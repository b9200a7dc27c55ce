package store

import (
	"database/sql"
	"strings"
	"unicode"

	"github.com/mattn/go-sqlite3"
	"golang.org/x/text/runes"
	"golang.org/x/text/transform"
	"golang.org/x/text/unicode/norm"
)

// driverName is SQLite with the functions that compare names as people do.
const driverName = "sqlite3-names"

func init() {
	sql.Register(driverName, &sqlite3.SQLiteDriver{ConnectHook: func(c *sqlite3.SQLiteConn) error {
		if err := c.RegisterFunc("holds", holds, true); err != nil {
			return err
		}
		return c.RegisterFunc("alike", alike, true)
	}})
}

// holds says whether a text holds another, whatever their case, accents and umlauts: an ü is found by u and
// by ue.
func holds(text any, part string) bool {
	s, _ := text.(string) // what is not there is empty
	plain, spelt := folded(s)
	partPlain, partSpelt := folded(strings.TrimSpace(part))
	return strings.Contains(plain, partPlain) || strings.Contains(spelt, partSpelt)
}

// alike says whether two aliases may be one person's.
func alike(a, b string) bool {
	plainA, speltA := folded(oneLine(a))
	plainB, speltB := folded(oneLine(b))
	return plainA == plainB || speltA == speltB
}

// spelt are the letters that are written with two, too.
var spelt = strings.NewReplacer("ä", "ae", "ö", "oe", "ü", "ue", "å", "aa", "ø", "oe")

// letters are those that no accent explains.
var letters = strings.NewReplacer("ß", "ss", "æ", "ae", "œ", "oe", "ø", "o", "ł", "l",
	"đ", "d", "ı", "i")

// folded is a text in small letters without accents: with umlauts as their letter, and as they are spelt with
// two.
func folded(text string) (plain, spelled string) {
	text = strings.ToLower(norm.NFC.String(text))
	return bare(text), bare(spelt.Replace(text))
}

func bare(text string) string {
	out, _, err := transform.String(transform.Chain(norm.NFD, runes.Remove(runes.In(unicode.Mn)), norm.NFC),
		text)
	if err != nil {
		out = text
	}
	return letters.Replace(out)
}
