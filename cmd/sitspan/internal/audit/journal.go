package audit

import (
	"crypto/sha256"
	"encoding/hex"
	"encoding/json"
	"errors"
	"io/fs"
	"os"
)

// Done is what is known of a content that was measured: a line of the journal.
type Done struct {
	SHA256      string `json:"sha256"`
	Key         string `json:"key"`    // of the version and the settings; see Identity.Key
	Status      string `json:"status"` // as measured
	Record      string `json:"record"` // name in records, without its ending
	Overlay     bool   `json:"overlay"`
	Fingerprint string `json:"fingerprint,omitempty"`
	// Lost says that the measuring process ended on it: another run tries again.
	Lost bool `json:"lost,omitempty"`

	Seconds       float64 `json:"seconds"`
	DecodeSeconds float64 `json:"decode_seconds"`
}

// Key changes where the version, the weights or a setting does that a
// measurement depends on.
func (id Identity) Key() string {
	data, err := json.Marshal([]any{id.Version, id.Model, string(compact(id.Settings))})
	if err != nil {
		return ""
	}
	sum := sha256.Sum256(data)
	return hex.EncodeToString(sum[:8])
}

// journal is written a line at a time while photos are measured, so that what is
// done stays done when the run is killed.
type journal struct{ f *os.File }

// openJournal begins a journal, or goes on with one: a line cut short by a kill
// is closed first.
func openJournal(r results) (*journal, error) {
	f, err := os.OpenFile(r.path(journalFile), os.O_RDWR|os.O_CREATE|os.O_APPEND, 0o644)
	if err != nil {
		return nil, err
	}
	return &journal{f}, nil
}

func (j *journal) add(d Done) error {
	line, err := json.Marshal(d)
	if err == nil {
		_, err = j.f.Write(append(line, '\n'))
	}
	return err
}

func (j *journal) close() error { return j.f.Close() }

// readJournal gives the last line of each content. A journal that a kill cut
// short is mended by being written again.
func readJournal(r results) (map[string]*Done, error) {
	lines, err := readLines[Done](r, journalFile)
	if errors.Is(err, fs.ErrNotExist) {
		return map[string]*Done{}, nil
	}
	if err != nil {
		return nil, err
	}
	return lastOf(lines), writeLines(r, journalFile, lines)
}

func lastOf(lines []Done) map[string]*Done {
	known := make(map[string]*Done, len(lines))
	for _, d := range lines {
		known[d.SHA256] = d.shared()
	}
	return known
}

// shared is the line with the words that most lines have held once for all.
func (d Done) shared() *Done {
	d.Key, d.Status = once(d.Key), once(d.Status)
	return &d
}

// stillDone says whether a content need not be measured again: under the same
// key, and its record and overlay are there.
func (r results) stillDone(d Done, key string) bool {
	if d.Key != key || d.Lost || !r.has(recordPath(d.Record)) {
		return false
	}
	return !d.Overlay || (r.has(overlayPath(d.Record)) && r.has(thumbnailPath(d.Record)))
}

func recordPath(name string) string    { return recordsDir + "/" + name + ".json" }
func overlayPath(name string) string   { return overlaysDir + "/" + name + ".jpg" }
func thumbnailPath(name string) string { return thumbnailsDir + "/" + name + ".jpg" }
