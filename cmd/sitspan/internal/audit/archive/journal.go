package archive

import (
	"encoding/json"
	"os"
	"strings"

	"sitspan/cmd/sitspan/internal/record"
)

// Done is what is known of a content that was measured: a line of the journal.
type Done struct {
	SHA256  string `json:"sha256"`
	Key     string `json:"key"`    // of the version and the settings; see Identity.Key
	Status  string `json:"status"` // as measured
	Record  string `json:"record"` // name in records, without its ending
	Overlay bool   `json:"overlay"`
	// Undrawn is why there is no overlay where there should be one: another run tries
	// again.
	Undrawn     string `json:"overlay_error,omitempty"`
	Fingerprint string `json:"fingerprint,omitempty"`
	// Ignored says that its first file never promised to be a picture.
	Ignored bool `json:"ignored,omitempty"`
	// Lost says that the measuring process ended on it: another run tries again.
	Lost bool `json:"lost,omitempty"`

	Seconds       float64 `json:"seconds"`
	DecodeSeconds float64 `json:"decode_seconds"`
}

// journal is written a line at a time while photos are measured, so that what is
// done stays done when the run is killed.
type journal struct{ f *os.File }

// openJournal begins a journal, or goes on with one: a line cut short by a kill
// is closed first.
func openJournal(r Results) (*journal, error) {
	f, err := os.OpenFile(r.Path(journalFile), os.O_RDWR|os.O_CREATE|os.O_APPEND, 0o644)
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
func mendJournal(r Results) error {
	if !r.Has(journalFile) {
		return nil
	}
	return WriteLines(r, journalFile, ReadLines[Done](r, journalFile))
}

// sortedJournal is the journal by content; of each content the last line holds.
func sortedJournal(r Results, s *Scratch) (*Table[Done], error) {
	sorted := NewTable(s, func(d *Done) []any { return []any{d.SHA256} })
	for d, err := range ReadLines[Done](r, journalFile) {
		if err == nil {
			err = sorted.Add(d)
		}
		if err != nil {
			return nil, err
		}
	}
	return sorted, nil
}

// stillDone says whether a content need not be measured again: under the same key,
// and its record and overlay are there. A record that is damaged is set aside, with
// what a reviewer may have written into it; one of a newer version is an error.
func (r Results) stillDone(d *Done, key string) (bool, error) {
	if d == nil || !r.Has(RecordPath(d.Record)) {
		return false, nil
	}
	_, err := record.Load(r.Path(RecordPath(d.Record)))
	switch {
	case err != nil && r.newerRecord(d.Record):
		return false, err
	case err != nil:
		return false, os.Rename(r.Path(RecordPath(d.Record)), r.Path(RecordPath(d.Record)+".damaged"))
	case d.Key != key || d.Lost || d.Undrawn != "":
		return false, nil
	}
	return !d.Overlay || (r.Has(OverlayPath(d.Record)) && r.Has(ThumbnailPath(d.Record))), nil
}

// newerRecord says whether a record was written by a newer version.
func (r Results) newerRecord(name string) bool {
	var head struct {
		Schema int `json:"schema"`
	}
	data, err := os.ReadFile(r.Path(RecordPath(name)))
	return err == nil && json.Unmarshal(data, &head) == nil && head.Schema > record.Schema
}

// Names in a folder of results, of what belongs to a record.
func RecordPath(name string) string    { return recordsDir + "/" + name + ".json" }
func OverlayPath(name string) string   { return overlaysDir + "/" + name + ".jpg" }
func ThumbnailPath(name string) string { return thumbnailsDir + "/" + name + ".jpg" }

// ThumbnailOf is the thumbnail that lies beside an overlay.
func ThumbnailOf(overlay string) string {
	return thumbnailsDir + strings.TrimPrefix(overlay, overlaysDir)
}
