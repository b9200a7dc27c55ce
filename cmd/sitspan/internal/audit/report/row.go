package report

import (
	"math"

	"sitspan/cmd/sitspan/internal/audit/archive"
	"sitspan/cmd/sitspan/internal/audit/statistics"
	"sitspan/cmd/sitspan/internal/record"
	"sitspan/cmd/sitspan/internal/sentence"
	"sitspan/cmd/sitspan/internal/words"
	"sitspan/imprint/codes"
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
	// CallBack says that this is the rider's latest sale and too narrow.
	CallBack bool `json:"call_back,omitempty" csv:"call_back"`

	Code   string `json:"reason_code,omitempty" csv:"reason_code,omitempty"`
	Reason string `json:"reason,omitempty" csv:"reason,omitempty"`
	Hint   string `json:"hint,omitempty" csv:"hint,omitempty"`
	// Form and Params with Code say Reason and Hint in any language.
	Form     string       `json:"reason_form,omitempty" csv:"-"`
	Params   codes.Params `json:"reason_params,omitempty" csv:"-"`
	Warnings string       `json:"warnings,omitempty" csv:"warnings,omitempty"` // codes
	Note     string       `json:"note,omitempty" csv:"note,omitempty"`         // of the audit's own

	Bytes   int64  `json:"bytes" csv:"bytes"`
	SHA256  string `json:"sha256,omitempty" csv:"sha256,omitempty"`
	Record  string `json:"record,omitempty" csv:"record,omitempty"`
	Overlay string `json:"overlay,omitempty" csv:"overlay,omitempty"`

	// Undrawn is why there is no overlay where there should be one.
	Undrawn string `json:"-" csv:"-"`
	// Read is the old reading that the row is compared with; nil where there is none.
	Read *statistics.Reading `json:"-" csv:"-"`
}

// RowOf is a file's row before anything is compared.
func RowOf(f archive.File) Row {
	r := Row{
		File: f.Path, Status: f.Status, Of: f.Of, By: f.By,
		Spacing: RoundedOrNil(
			f.Spacing,
		), U: RoundedOrNil(f.U), Scale: f.Scale, Medium: f.Medium, Reviewer: f.Reviewer,
		Code: f.Code, Reason: f.Reason, Hint: f.Hint, Form: f.Form, Params: f.Params, Warnings: f.Warnings,
		Bytes: f.Bytes, SHA256: f.SHA256, Record: f.Record, Overlay: f.Overlay, Undrawn: f.Undrawn,
	}
	if f.Undrawn != "" {
		r.AddNote("no overlay: " + f.Undrawn)
	}
	return r
}

// said is the row's reason and what to do about it in a language; in English where only its words are known.
func (r *Row) said(lang words.Lang) sentence.Spoken {
	return sentence.OfReason(lang, record.Reason{
		Code: r.Code, Form: r.Form, Params: r.Params, Message: r.Reason, Hint: r.Hint,
	})
}

// AddNote adds to the row's note.
func (r *Row) AddNote(text string) {
	if r.Note != "" {
		r.Note += "; "
	}
	r.Note += text
}

// Number is a value in a row, to a thousandth; nil where it is not finite.
func Number(v float64) *float64 { return RoundedOrNil(&v) }

// RoundedOrNil is Number for a value that may not be there.
func RoundedOrNil(v *float64) *float64 {
	if v == nil || math.IsNaN(*v) || math.IsInf(*v, 0) {
		return nil
	}
	r := statistics.Rounded(*v)
	return &r
}

// Counts says whether the row's number goes into the statistics.
func (r *Row) Counts() bool { return r.Status == record.Measured && r.Spacing != nil }

// compared says whether the row has a difference that counts.
func (r *Row) compared() bool { return r.Counts() && r.Difference != nil }
