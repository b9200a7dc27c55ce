package audit

import (
	"strings"

	"sitspan/cmd/sitspan/internal/record"
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

// What a new measurement says about an old width.
const (
	Wider    = "wider"    // a wider saddle would be chosen
	Narrower = "narrower" // a narrower one
	Same     = "no"       // the same
	Open     = "open"     // the measurement leaves it open between two sizes, the old one among them
)

// Row is what became of one file: a line of rows.csv and of rows.jsonl. Lengths
// are in mm. A row that has no number has none for a reason: see Status.
type Row struct {
	File   string `json:"file" csv:"file"`
	Status string `json:"status" csv:"status"`
	// Of is the file that is counted in the place of this duplicate; By says why.
	Of string `json:"duplicate_of,omitempty" csv:"duplicate_of,omitempty"`
	By string `json:"duplicate_by,omitempty" csv:"duplicate_by,omitempty"`

	Spacing  *float64 `json:"spacing_mm" csv:"spacing_mm"`
	U        *float64 `json:"expanded_uncertainty_mm" csv:"expanded_uncertainty_mm"`
	Scale    string   `json:"scale_source,omitempty" csv:"scale_source,omitempty"`
	Medium   string   `json:"medium,omitempty" csv:"medium,omitempty"`
	Reviewer string   `json:"reviewer,omitempty" csv:"reviewer,omitempty"`

	Reading    *float64 `json:"reading_mm,omitempty" csv:"reading_mm"`
	ReadingU   *float64 `json:"reading_u_mm,omitempty" csv:"reading_u_mm"`
	Difference *float64 `json:"difference_mm,omitempty" csv:"difference_mm"` // reading - spacing
	En         *float64 `json:"e_n,omitempty" csv:"e_n"`
	Outlier    bool     `json:"outlier,omitempty" csv:"outlier"`
	Rider      string   `json:"rider,omitempty" csv:"rider,omitempty"`
	Fitter     string   `json:"fitter,omitempty" csv:"fitter,omitempty"`
	Date       string   `json:"date,omitempty" csv:"date,omitempty"`

	Allowance *float64 `json:"allowance_mm,omitempty" csv:"allowance_mm"`
	Required  *float64 `json:"required_mm,omitempty" csv:"required_mm"`
	RequiredU *float64 `json:"required_u_mm,omitempty" csv:"required_u_mm"`
	// Rounded is the width that plain rounding up of the reading gives, Sold what
	// was sold, New what the rule chooses now, NewAlso the next narrower width
	// where the measurement leaves it open between two.
	Rounded *float64 `json:"width_by_reading_mm,omitempty" csv:"width_by_reading_mm"`
	Sold    *float64 `json:"width_sold_mm,omitempty" csv:"width_sold_mm"`
	New     *float64 `json:"width_now_mm,omitempty" csv:"width_now_mm"`
	NewAlso *float64 `json:"width_now_or_mm,omitempty" csv:"width_now_or_mm"`
	// Change compares Sold, or Rounded where nothing is known to be sold.
	Change string `json:"width_would_change,omitempty" csv:"width_would_change,omitempty"`
	// Shortfall is Required - Sold where that is above zero, and Holds the
	// probability that what was sold is wide enough.
	Shortfall *float64 `json:"shortfall_mm,omitempty" csv:"shortfall_mm"`
	Holds     *float64 `json:"probability_sold_holds,omitempty" csv:"probability_sold_holds"`

	Code     string `json:"reason_code,omitempty" csv:"reason_code,omitempty"`
	Reason   string `json:"reason,omitempty" csv:"reason,omitempty"`
	Hint     string `json:"hint,omitempty" csv:"hint,omitempty"`
	Warnings string `json:"warnings,omitempty" csv:"warnings,omitempty"` // codes
	Note     string `json:"note,omitempty" csv:"note,omitempty"`         // of the audit's own

	Bytes   int64  `json:"bytes" csv:"bytes"`
	SHA256  string `json:"sha256,omitempty" csv:"sha256,omitempty"`
	Record  string `json:"record,omitempty" csv:"record,omitempty"`
	Overlay string `json:"overlay,omitempty" csv:"overlay,omitempty"`

	reading *Reading
}

// thumb is the name of the picture's thumbnail, which lies beside its overlay;
// empty where there is no picture.
func (r *Row) thumb() string {
	if r.Overlay == "" {
		return ""
	}
	return thumbnailsDir + strings.TrimPrefix(r.Overlay, overlaysDir)
}

// counts says whether the row's number goes into the statistics.
func (r *Row) counts() bool { return r.Status == record.Measured && r.Spacing != nil }

// compared says whether the row has a difference that counts.
func (r *Row) compared() bool { return r.counts() && r.Difference != nil }

// Tally is what the files came to. Files is the sum of all the others.
type Tally struct {
	Files      int `json:"files"`
	Measured   int `json:"measured"`
	Review     int `json:"review"`
	Refused    int `json:"refused"`
	Failed     int `json:"failed"`
	Duplicates int `json:"duplicates"`
	Ignored    int `json:"ignored"`
}

// add counts a row by its status.
func (t *Tally) add(r *Row) {
	t.Files++
	switch r.Status {
	case record.Measured:
		t.Measured++
	case record.Review:
		t.Review++
	case record.Refused:
		t.Refused++
	case record.Failed:
		t.Failed++
	case Duplicate:
		t.Duplicates++
	case Ignored:
		t.Ignored++
	}
}

// Closes says whether every file is counted once.
func (t Tally) Closes() bool {
	return t.Files == t.Measured+t.Review+t.Refused+t.Failed+t.Duplicates+t.Ignored
}
