package worker

import (
	"sitspan/cmd/sitspan/internal/proof"
	"sitspan/cmd/sitspan/internal/record"
	"sitspan/cmd/sitspan/internal/words"
)

// Settings are what all photos of a child are measured under: its first line.
type Settings struct {
	Shop    string    `json:"shop,omitempty"`   // path of the shop's file; empty for the defaults
	Medium  string    `json:"medium,omitempty"` // "", "foam" or "paper"
	Pad     string    `json:"pad,omitempty"`
	DepthMM []float64 `json:"depth_mm,omitempty"`
	DepthU  float64   `json:"depth_u_mm,omitempty"`

	Checks []proof.Kept `json:"checks,omitempty"` // of the shop's own, with known distances

	// What a child may take; 0 for the default.
	Threads    int    `json:"threads,omitempty"`     // processors; all
	CPUSeconds uint64 `json:"cpu_seconds,omitempty"` // processor time in all, then the system ends it; no end
	MaxBytes   int64  `json:"max_bytes,omitempty"`   // of a photo's file; the reader's
	MaxPixels  int64  `json:"max_pixels,omitempty"`  // of a photo; the reader's
}

// Job is one answer to make: of the photo at Path, or of Sittings. A job of Sittings is one photo,
// several photos of one imprint, or several sittings.
type Job struct {
	// as the system knows it: JSON's text would change what is not UTF-8
	Path      []byte `json:"path,omitempty"`
	Page      int    `json:"page,omitempty"`    // of a document with several, from 2; else the first
	Overlay   string `json:"overlay,omitempty"` // JPEG file to draw the measurement into; empty for none
	Thumbnail string `json:"thumbnail,omitempty"`

	Sittings [][]Photo  `json:"sittings,omitempty"`
	Hand     *HandScale `json:"hand,omitempty"` // a scale and centres that a person set on the only photo
	Bare     bool       `json:"bare,omitempty"` // no measurement: the only photo without its place and owner
	// beside the measurement, the only photo without its place and owner; see Answer.Bare
	Strip bool `json:"strip,omitempty"`

	Draw []Drawing `json:"draw,omitempty"` // the pictures that the answer is to hold

	early func(Answer) error
}

// Photo is a file and what the record shall call it.
type Photo struct {
	Path string       `json:"path"`
	Name string       `json:"name"`
	SHA  string       `json:"sha256"`
	Card *record.Card `json:"card,omitempty"` // that was found in it before its face was painted over, and
	Size [2]int       `json:"size,omitzero"`  // the picture's width and height then, px
}

// HandScale is a scale and both centres that a person set, px of the upright picture.
type HandScale struct {
	record.HandScale
	Left  [2]float64 `json:"left"`
	Right [2]float64 `json:"right"`
	U     float64    `json:"u_mm"` // standard uncertainty of a centre, mm; 0 takes the default
}

// Drawing is a picture that is wanted.
type Drawing struct {
	Name string `json:"name"`           // in Answer.Pictures
	Side int    `json:"side"`           // px, the longer side
	Lang string `json:"lang,omitempty"` // of what is drawn into it; empty for the photo alone
}

// Answer is what came of a Job.
type Answer struct {
	Record        record.Record `json:"record"`
	Fingerprint   string        `json:"fingerprint,omitempty"` // of the picture; see package fingerprint
	OverlayError  string        `json:"overlay_error,omitempty"`
	Seconds       float64       `json:"seconds"`        // on the clock, drawing included
	DecodeSeconds float64       `json:"decode_seconds"` // of which reading and decoding the file

	Error    *words.Carried    `json:"error,omitempty"` // no record could be made at all
	Pictures map[string][]byte `json:"pictures,omitempty"`
	// the photo's file anew, where it shows what must not be kept
	Covered   []byte `json:"covered,omitempty"`
	Bare      []byte `json:"bare,omitempty"`
	Extension string `json:"extension,omitempty"` // of Bare

	Early bool `json:"early,omitempty"` // the job's whole answer follows
}

// Early tells the parent what is known of a job before its answer is whole, so that nobody waits for the
// drawing.
func (j Job) Early(a Answer) error {
	if j.early == nil {
		return nil
	}
	a.Early = true
	return j.early(a)
}

// ready is a child's first line: whether it took the settings.
type ready struct {
	Error *words.Carried `json:"error,omitempty"`
}
