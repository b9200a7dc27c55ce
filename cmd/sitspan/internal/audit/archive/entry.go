package archive

import (
	"encoding/hex"
	"fmt"
	"strconv"
	"strings"
	"unicode"
	"unicode/utf8"

	"sitspan/cmd/sitspan/internal/sentence"
	"sitspan/imprint/codes"
	"sitspan/imprint/photo"
)

// Entry is one file of the folder, as the walk found it. It is a line of
// files.jsonl.
type Entry struct {
	// Path is the file's name from the folder, with slashes; what cannot be
	// printed is written as Go would (\n, \xff).
	Path string `json:"file"`
	// Size is in bytes.
	Size int64 `json:"bytes"`
	// SHA256 is the content's, in hexadecimal; empty where it was not read.
	SHA256 string `json:"sha256,omitempty"`
	// Trouble is why the content was not read; nil where it was.
	Trouble *Trouble `json:"trouble,omitempty"`
	// Raw is the path as the system knows it, from the folder, where that is not
	// Path.
	Raw []byte `json:"raw,omitempty"`
	// Page is the page of a document with several, from 2; the first page has the
	// file's own name, the others have "#2" and so on behind it.
	Page int `json:"page,omitempty"`
}

// raw is the path as the system knows it, from the folder.
func (e Entry) raw() string {
	if e.Raw == nil {
		return e.Path
	}
	return string(e.Raw)
}

// page is another page of the file that the entry is of.
func (e Entry) page(n int, file [32]byte) Entry {
	sum := photo.PageSHA256(file, n)
	return Entry{
		Path:   fmt.Sprintf("%s#%d", e.Path, n),
		Size:   e.Size,
		SHA256: hex.EncodeToString(sum[:]),
		Raw:    []byte(e.raw()),
		Page:   n,
	}
}

// order is that of the files' names.
func (e *Entry) order() []any { return []any{e.Path, string(e.Raw)} }

// Trouble is why a file is not measured: what was seen and needed, and what to
// do about it.
type Trouble struct {
	Code    string `json:"code"`
	Message string `json:"message"`
	Hint    string `json:"hint"`
	// Form and Params with Code say both in any language.
	Form   string       `json:"form,omitempty"`
	Params codes.Params `json:"params,omitempty"`
	// Passed says that the file is none of the audit's business, rather than
	// broken: it is ignored.
	Passed bool `json:"passed,omitempty"`
}

// trouble is a reason of package codes with its English words.
func trouble(s codes.Said) *Trouble {
	r := sentence.Reason(s)
	return &Trouble{Code: r.Code, Message: r.Message, Hint: r.Hint, Form: r.Form, Params: r.Params}
}

// passed is one for what is none of the audit's business.
func passed(s codes.Said) *Trouble {
	t := trouble(s)
	t.Passed = true
	return t
}

// printablePath makes a path that can stand in a line of text.
func printablePath(raw string) string {
	if utf8.ValidString(raw) && !strings.ContainsFunc(raw, func(r rune) bool { return !unicode.IsPrint(r) }) {
		return raw
	}
	quoted := strconv.Quote(raw)
	return quoted[1 : len(quoted)-1]
}

// pictureEndings are endings that promise a picture, or a scan's document: such
// a file that cannot be measured is a failure, another one is passed over.
var pictureEndings = map[string]bool{
	".jpg": true, ".jpeg": true, ".jpe": true, ".png": true, ".tif": true,
	".tiff": true, ".webp": true, ".heic": true, ".heif": true,
	".pdf": true, ".bmp": true, ".gif": true, ".jp2": true, ".jxl": true, ".avif": true, ".dng": true,
}
