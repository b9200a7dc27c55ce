package evidence

import (
	"encoding/json"
	"fmt"
	"math"
	"os"
	"time"
)

// Baseline is what the program came to on a set when it was last looked at and found good. It lies beside the
// set.
type Baseline struct {
	Date   string `json:"date"`
	Commit string `json:"commit"` // of the program that was measured with
	Rows   []Row  `json:"rows"`
}

// NewBaseline keeps results as they are.
func NewBaseline(day time.Time, commit string, results []Result) Baseline {
	return Baseline{Date: day.Format(time.DateOnly), Commit: commit, Rows: Tabulate(results)}
}

// LoadBaseline reads one.
func LoadBaseline(path string) (b Baseline, err error) {
	data, err := os.ReadFile(path)
	if err == nil {
		err = json.Unmarshal(data, &b)
	}
	if err != nil {
		return b, fmt.Errorf("the baseline: %w", err)
	}
	return b, nil
}

// MostGrowth is how many times the baseline's rms a later one may be. A fifth more on the bundled set is more
// than rounding and another machine's arithmetic do, and little enough to be looked into.
const MostGrowth = 1.2

// Faults says in what results fall behind the baseline: an accepted reading with the truth outside its U;
// fewer accepted of a kind, since who refuses all errs never; and, over all of one reading, an rms that grew
// by a fifth. One kind has too few photos for an rms of its own.
func (b Baseline) Faults(results []Result) []string {
	var faults []string
	for _, r := range results {
		if r.Accepted() && !r.Inside() {
			faults = append(faults, fmt.Sprintf("%s, %s: %.2f mm off at U = %.2f mm", r.Photo, r.Reading, r.Error,
				r.U))
		}
	}
	now := map[Row]Row{}
	for _, r := range Tabulate(results) {
		now[Row{Reading: r.Reading, Pad: r.Pad, Shape: r.Shape}] = r
	}
	for _, was := range b.Rows {
		what := fmt.Sprintf("%s, %s, %s", was.Reading, was.Pad, was.Shape)
		is := now[Row{Reading: was.Reading, Pad: was.Pad, Shape: was.Shape}]
		if is.Accepted < was.Accepted {
			faults = append(faults, fmt.Sprintf("%s: %d of %d accepted, there were %d", what, is.Accepted, is.N,
				was.Accepted))
		}
		if was.Pad == all && math.Abs(is.RMS) > MostGrowth*was.RMS {
			faults = append(faults, fmt.Sprintf("%s: rms %.3f mm, it was %.3f mm", what, is.RMS, was.RMS))
		}
	}
	return faults
}
