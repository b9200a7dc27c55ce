package archive

import (
	"sitspan/cmd/sitspan/internal/record"
	"sitspan/imprint/codes"
)

// What a file may be beside measured, review, refused and failed.
const (
	Duplicate = "duplicate"
	Ignored   = "ignored"
)

// Why a file is a duplicate.
const (
	SameContent = "same content"
	SavedAgain  = "saved again"
)

// File is what became of one file of the folder, before it is compared with
// anything. Lengths are in mm.
type File struct {
	Path   string
	Status string
	// Of is the file that is counted in the place of this duplicate; By says why.
	Of, By string

	Spacing  *float64
	U        *float64 // expanded
	Scale    string   // what gave it
	Medium   string
	Reviewer string

	Code, Reason, Hint string // why there is no number, or none to be used; in English
	// Form and Params with Code are the reason in any language; no Params where only its words are known.
	Form     string
	Params   codes.Params
	Warnings string // codes

	Bytes   int64
	SHA256  string // empty where the content was not read
	Record  string // names in the folder of results
	Overlay string // empty where there is no picture
	Undrawn string // why there is no picture where there should be one
}

// Counts says whether the file's number goes into the statistics.
func (f *File) Counts() bool { return f.Status == record.Measured && f.Spacing != nil }
