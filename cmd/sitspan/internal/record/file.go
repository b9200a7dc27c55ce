package record

import (
	"bytes"
	"encoding/json"
	"errors"
	"io"
	"io/fs"
	"os"
	"path/filepath"
	"reflect"
	"slices"
	"strings"
	"unicode/utf8"

	"sitspan/cmd/sitspan/internal/wholefile"
	"sitspan/cmd/sitspan/internal/words"
)

// maxFileBytes bounds what is read as a record: one of a joint measurement for
// three bikes has some hundred kilobytes.
const maxFileBytes = 16 << 20

// Extension is the ending of a record's file.
const Extension = ".json"

// Load reads one record. The error is one line that names the file.
func Load(path string) (Record, error) {
	f, err := os.Open(path)
	if err != nil {
		return Record{}, words.Fault("error.record", words.Values{"why": err})
	}
	defer f.Close()
	data, err := io.ReadAll(io.LimitReader(f, maxFileBytes+1))
	if err != nil {
		return Record{}, words.Fault("error.record", words.Values{"why": err})
	}
	rec, err := Parse(data)
	if err != nil {
		return Record{}, words.Fault("error.record.file", words.Values{"path": path, "why": err})
	}
	return rec, nil
}

// Parse reads a record of this schema or an older one, and checks it. Fields
// that this version does not know are passed over: a schema's number changes
// only where an older reader would misread it.
func Parse(data []byte) (Record, error) {
	if len(data) > maxFileBytes {
		return Record{}, words.Fault("error.record.long", nil)
	}
	var head struct {
		Schema *int `json:"schema"`
	}
	if err := json.Unmarshal(data, &head); err != nil {
		return Record{}, words.Fault("error.record.none", words.Values{"why": jsonMessage(data, err)})
	}
	switch {
	case head.Schema == nil:
		return Record{}, words.Fault("error.record.no_schema", nil)
	case *head.Schema > Schema:
		return Record{}, words.Fault("error.record.newer", words.Values{
			"schema": *head.Schema, "known": Schema,
		})
	case *head.Schema < 1:
		return Record{}, words.Fault("error.record.schema", words.Values{"schema": *head.Schema})
	}
	var rec Record
	if err := json.Unmarshal(data, &rec); err != nil {
		return Record{}, words.Fault("error.record.none", words.Values{"why": jsonMessage(data, err)})
	}
	if *head.Schema == 1 {
		rec.upgrade()
		rec.Schema = Schema
	}
	if err := rec.Check(); err != nil {
		return Record{}, err
	}
	return rec, nil
}

// jsonMessage says what is wrong with the JSON, with its line.
func jsonMessage(data []byte, err error) error {
	var syntax *json.SyntaxError
	var wrong *json.UnmarshalTypeError
	switch {
	case errors.As(err, &syntax):
		return words.Fault("error.record.json_short", words.Values{"line": lineAt(data, syntax.Offset)})
	case errors.As(err, &wrong) && wrong.Field == "":
		return words.Fault("error.record.json_object", words.Values{"kind": jsonKind(wrong.Value)})
	case errors.As(err, &wrong):
		return words.Fault("error.record.json_field", words.Values{
			"line": lineAt(data, wrong.Offset), "field": wrong.Field, "kind": jsonKind(wrong.Value),
			"want": jsonWord(wrong.Type.Kind()),
		})
	}
	return err
}

// jsonKind is what stands where another kind is needed, as encoding/json calls it:
// "string", "number 1e400".
func jsonKind(value string) any {
	kind, rest, _ := strings.Cut(value, " ")
	switch kind {
	case "string", "number", "bool", "array", "object", "null":
		if rest == "" {
			return words.Key("error.record.json_kind." + kind)
		}
	}
	return value
}

// jsonWord is the key of what JSON calls a Go kind.
func jsonWord(kind reflect.Kind) words.Key {
	switch kind {
	case reflect.Float64:
		return "error.record.json_want.number"
	case reflect.Int, reflect.Int64:
		return "error.record.json_want.whole"
	case reflect.Slice, reflect.Array:
		return "error.record.json_want.array"
	case reflect.Struct, reflect.Map:
		return "error.record.json_want.object"
	case reflect.Bool:
		return "error.record.json_want.bool"
	}
	return "error.record.json_want.string"
}

func lineAt(data []byte, offset int64) int {
	end := min(max(offset, 0), int64(len(data)))
	return 1 + bytes.Count(data[:end], []byte("\n"))
}

// Save writes a record to dir/name.json, all of it or nothing: to a file beside
// it that is flushed to the disk and then renamed. It creates dir.
//
// A record in that place is replaced only where nothing is lost by it: not the
// record of another picture, not one whose reviews the new one lacks, and not a
// file that is no record.
func Save(dir, name string, rec Record) (path string, err error) {
	if err := checkName(name); err != nil {
		return "", err
	}
	rec.Schema = Schema
	if err := rec.Check(); err != nil {
		return "", words.Fault("error.record.unwritten", words.Values{"name": name, "why": err})
	}
	data, err := indented(rec)
	if err != nil {
		return "", words.Fault("error.record.unwritten", words.Values{"name": name, "why": err})
	}
	if err := os.MkdirAll(dir, 0o755); err != nil {
		return "", words.Fault("error.record.unwritten", words.Values{"name": name, "why": err})
	}
	path = filepath.Join(dir, name+Extension)
	if err := mayReplace(path, rec); err != nil {
		return "", err
	}
	if err := wholefile.Bytes(path, append(data, '\n')); err != nil {
		return "", words.Fault("error.record.unwritten", words.Values{"name": name, "why": err})
	}
	return path, nil
}

// Name is a record's file name without its ending: the picture's, and the
// beginning of its hash, so that two pictures of the same name in different
// folders stay apart.
func (r Record) Name() string {
	if len(r.Photos) == 0 {
		return "record"
	}
	p := r.Photos[0]
	base := filepath.Base(filepath.ToSlash(p.Name))
	base = shortened(strings.TrimSuffix(base, filepath.Ext(base)))
	name := strings.Map(plainRune, base+"-"+p.SHA256[:min(8, len(p.SHA256))])
	name = strings.TrimRight(strings.TrimLeft(name, ".-"), "-")
	if name == "" {
		return "record"
	}
	return name
}

// longestBase is how many bytes of a photo's name are in its record's: file systems
// take 255 in all.
const longestBase = 200

// shortened cuts a long name between its letters.
func shortened(base string) string {
	if len(base) <= longestBase {
		return base
	}
	end := longestBase
	for end > 0 && !utf8.RuneStart(base[end]) {
		end--
	}
	return base[:end]
}

// plainRune keeps file names free of what file systems or shells refuse.
func plainRune(r rune) rune {
	if r < ' ' || strings.ContainsRune(`/\:*?"<>|`, r) {
		return '_'
	}
	return r
}

func checkName(name string) error {
	if name == "" || strings.HasPrefix(name, ".") || strings.Map(plainRune, name) != name {
		return words.Fault("error.record.name", words.Values{"name": name})
	}
	return nil
}

// mayReplace says whether writing rec to path would lose anything.
func mayReplace(path string, rec Record) error {
	old, err := Load(path)
	switch {
	case errors.Is(err, fs.ErrNotExist):
		return nil
	case err != nil:
		return words.Fault("error.record.kept", words.Values{"path": path, "why": err})
	case !slices.EqualFunc(old.Photos, rec.Photos, func(a, b Photo) bool { return a.SHA256 == b.SHA256 }):
		return words.Fault("error.record.other", words.Values{"path": path})
	case len(old.Reviews) > len(rec.Reviews) || !sameReviews(old.Reviews, rec.Reviews[:len(old.Reviews)]):
		return words.Fault("error.record.reviews", words.Values{"path": path, "n": len(old.Reviews)})
	}
	return nil
}

// sameReviews compares two lists as the files hold them.
func sameReviews(a, b []Revision) bool {
	return slices.EqualFunc(a, b, func(x, y Revision) bool {
		one, err1 := json.Marshal(x)
		two, err2 := json.Marshal(y)
		return err1 == nil && err2 == nil && bytes.Equal(one, two)
	})
}
