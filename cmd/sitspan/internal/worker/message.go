package worker

import "sitspan/cmd/sitspan/internal/record"

// Settings are what all photos of a child are measured under: its first line.
type Settings struct {
	Shop    string    `json:"shop,omitempty"`   // path of the shop's file; empty for the defaults
	Medium  string    `json:"medium,omitempty"` // "", "foam" or "paper"
	Pad     string    `json:"pad,omitempty"`
	DepthMM []float64 `json:"depth_mm,omitempty"`
	DepthU  float64   `json:"depth_u_mm,omitempty"`
	Threads int       `json:"threads,omitempty"` // processors that a child may use; 0 for all
}

// Job is one photo to measure, and the pictures to leave of it.
type Job struct {
	Path      []byte `json:"path"`              // as the system knows it: JSON's text would change what is not UTF-8
	Page      int    `json:"page,omitempty"`    // of a document with several, from 2; else the first
	Overlay   string `json:"overlay,omitempty"` // JPEG file to draw the measurement into; empty for none
	Thumbnail string `json:"thumbnail,omitempty"`
}

// Answer is what came of a Job.
type Answer struct {
	Record        record.Record `json:"record"`
	Fingerprint   string        `json:"fingerprint,omitempty"` // of the picture; see package fingerprint
	OverlayError  string        `json:"overlay_error,omitempty"`
	Seconds       float64       `json:"seconds"`        // on the clock, drawing included
	DecodeSeconds float64       `json:"decode_seconds"` // of which reading and decoding the file
}

// ready is a child's first line: whether it took the settings.
type ready struct {
	Error string `json:"error,omitempty"`
}
