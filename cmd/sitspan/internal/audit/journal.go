package audit

import (
	"cmp"
	"crypto/sha256"
	"encoding/hex"
	"encoding/json"
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

// mendJournal writes a journal again, without the line that a kill cut short.
func mendJournal(r results) error {
	if !r.has(journalFile) {
		return nil
	}
	return writeLines(r, journalFile, readLines[Done](r, journalFile))
}

// sortedJournal is the journal by content; of each content the last line holds.
func sortedJournal(r results, s *spill) (*sorter[Done], error) {
	sorted := newSorter(s, func(a, b *Done) int { return cmp.Compare(a.SHA256, b.SHA256) })
	for d, err := range readLines[Done](r, journalFile) {
		if err == nil {
			err = sorted.add(d)
		}
		if err != nil {
			return nil, err
		}
	}
	return sorted, nil
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
