package judge

import (
	"slices"

	"sitspan/imprint/codes"
)

// Status is the outcome of a measurement.
type Status string

// The outcomes. A reviewed measurement has a number that somebody must look at; a refused one has none.
const (
	Measured Status = "measured"
	Review   Status = "review"
	Refused  Status = "refused"
)

// Verdict is what became of a measurement, and why.
type Verdict struct {
	Status   Status
	Reasons  []codes.Said
	Warnings []codes.Said // what weakens the result
}

// Refuse gives the measurement up.
func (v *Verdict) Refuse(r codes.Said) {
	v.Status = Refused
	v.Reasons = append(v.Reasons, r)
}

// Review asks for somebody to look. What was said once is not said again in other words.
func (v *Verdict) Review(r codes.Said) {
	if v.Status != Refused {
		v.Status = Review
	}
	if !slices.ContainsFunc(v.Reasons, func(said codes.Said) bool { return said.Code == r.Code }) {
		v.Reasons = append(v.Reasons, r)
	}
}

// Warn adds a footnote.
func (v *Verdict) Warn(w codes.Said) { v.Warnings = append(v.Warnings, w) }

// WarnOnce adds a footnote where none of its code is there.
func (v *Verdict) WarnOnce(w codes.Said) {
	if !slices.ContainsFunc(v.Warnings, func(said codes.Said) bool { return said.Code == w.Code }) {
		v.Warn(w)
	}
}

// Anew takes back what was said: another scale, or another reading, is tried.
func (v *Verdict) Anew() { v.Status, v.Reasons = Measured, nil }
