package report

import (
	"sitspan/cmd/sitspan/internal/audit/archive"
	"sitspan/cmd/sitspan/internal/audit/statistics"
	"sitspan/cmd/sitspan/internal/record"
)

// Statistics is what an audit counted and what the differences say. It is
// statistics.json.
type Statistics struct {
	Schema  int    `json:"schema"`
	Version string `json:"version"`
	Model   string `json:"model"`
	Tally   Tally  `json:"tally"`

	// Uncertainty tells the new measurements' own expanded uncertainties.
	Uncertainty *Spread `json:"expanded_uncertainty_mm,omitempty"`
	// Undrawn counts the pictures whose overlay could not be drawn.
	Undrawn int `json:"overlays_not_drawn"`
	// Scales counts the rows that were measured or reviewed by their scale.
	Scales map[string]int `json:"scale_sources"`
	// Reasons counts the rows without a usable number by the reason's code.
	Reasons map[string]int `json:"reason_codes"`

	Readings ReadingCount `json:"readings"`
	statistics.Comparison
	Disagree  int                     `json:"e_n_above_1"` // rows
	Widths    WidthChanges            `json:"widths"`
	CallBacks []statistics.NamedValue `json:"call_back"` // mm that what was sold is too narrow, worst first
	Unsure    int                     `json:"sold_wide_enough_but_unsure"`
}

// ReadingCount is what became of the readings' rows.
type ReadingCount struct {
	Compared    int `json:"compared"`               // with a measured number that counts
	NotCompared int `json:"not_compared"`           // their file has no number to be used
	Faults      int `json:"faults"`                 // rows or cells that cannot be used
	AssumedU    int `json:"assumed_u"`              // of the compared, those that state no uncertainty
	OtherShards int `json:"other_shards,omitempty"` // their file is in another shard
}

// Spread tells values by their middle and their ends.
type Spread struct {
	Median float64 `json:"median"`
	P90    float64 `json:"p90"` // nine of ten are at most this
	Most   float64 `json:"most"`
}

// WidthChanges counts rows by Row.Change.
type WidthChanges struct {
	Wider    int `json:"wider"`
	Narrower int `json:"narrower"`
	Same     int `json:"no"`
	Open     int `json:"open"`
}

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
	case archive.Duplicate:
		t.Duplicates++
	case archive.Ignored:
		t.Ignored++
	}
}

// Closes says whether every file is counted once.
func (t Tally) Closes() bool {
	return t.Files == t.Measured+t.Review+t.Refused+t.Failed+t.Duplicates+t.Ignored
}
