package audit

import (
	"cmp"
	"math"
	"slices"

	"sitspan/calibration/precision"
)

// Statistics is what the differences say of the old way: reading - measurement,
// in mm. Intervals are 95 %. It is statistics.json.
type Statistics struct {
	Schema  int    `json:"schema"`
	Version string `json:"version"`
	Model   string `json:"model"`
	Tally   Tally  `json:"tally"`

	// Uncertainty tells the new measurements' own expanded uncertainties.
	Uncertainty *Spread `json:"expanded_uncertainty_mm,omitempty"`
	// Scales counts the rows that were measured or reviewed by their scale.
	Scales map[string]int `json:"scale_sources"`
	// Reasons counts the rows without a usable number by the reason's code.
	Reasons map[string]int `json:"reason_codes"`

	Readings ReadingCount `json:"readings"`
	// Shared is the standard uncertainty in mm that all new measurements have in
	// common, which no number of files averages away.
	Shared       float64      `json:"shared_u_mm"`
	All          *Agreement   `json:"all,omitempty"`
	ByFitter     []Group      `json:"by_fitter"`
	ByYear       []Group      `json:"by_year"`
	Drifts       []Drift      `json:"drift_by_fitter"`
	Proportional *Slope       `json:"proportional_bias,omitempty"`
	OldRepeat    *Repeat      `json:"repeatability_of_readings,omitempty"`
	NewRepeat    *Repeat      `json:"repeatability_of_measurements,omitempty"`
	Outliers     []NamedValue `json:"outliers"`
	Disagree     int          `json:"e_n_above_1"` // rows
	Widths       WidthChanges `json:"widths"`
	CallBacks    []NamedValue `json:"call_back"` // mm that what was sold is too narrow, worst first
	Unsure       int          `json:"sold_wide_enough_but_unsure"`
}

// ReadingCount is what became of the readings' rows.
type ReadingCount struct {
	Compared    int `json:"compared"`     // with a measured number that counts
	NotCompared int `json:"not_compared"` // their file has no number to be used
	Faults      int `json:"faults"`       // rows or cells that cannot be used
	AssumedU    int `json:"assumed_u"`    // of the compared, those that state no uncertainty
}

// Spread tells values by their middle and their ends.
type Spread struct {
	Median float64 `json:"median"`
	P90    float64 `json:"p90"` // nine of ten are at most this
	Most   float64 `json:"most"`
}

// Interval is a 95 % interval.
type Interval [2]float64

// Agreement is Bland and Altman's: bias, SD and 95 % limits of agreement, with
// the confidence intervals of all.
type Agreement struct {
	N            int      `json:"n"`
	Bias         float64  `json:"bias_mm"`
	BiasInterval Interval `json:"bias_interval_mm"` // by the differences' scatter alone
	// BiasWithShared adds what all new measurements have in common.
	BiasWithShared Interval `json:"bias_interval_with_shared_mm"`
	SD             float64  `json:"sd_mm"`
	Lower          float64  `json:"lower_limit_mm"`
	LowerInterval  Interval `json:"lower_limit_interval_mm"`
	Upper          float64  `json:"upper_limit_mm"`
	UpperInterval  Interval `json:"upper_limit_interval_mm"`
}

// Group is the agreement of a part of the rows. With fewer than three only the
// mean is told.
type Group struct {
	Name      string     `json:"name"`
	N         int        `json:"n"`
	Mean      float64    `json:"mean_mm"`
	Agreement *Agreement `json:"agreement,omitempty"`
}

// NamedValue is a file and its value in mm.
type NamedValue struct {
	File  string  `json:"file"`
	Value float64 `json:"mm"`
}

// WidthChanges counts rows by Row.Change.
type WidthChanges struct {
	Wider    int `json:"wider"`
	Narrower int `json:"narrower"`
	Same     int `json:"no"`
	Open     int `json:"open"`
}

// outlierLevel is the chance of naming an outlier in a sample that has none.
const outlierLevel = 0.05

// mostOutliers is how many are looked for: of more, it is not single readings that
// are odd.
const mostOutliers = 500

func statisticsOf(a *Account) Statistics {
	rows := a.Rows
	s := Statistics{Schema: runSchema, Version: a.Identity.Version, Model: a.Identity.Model, Tally: tallyOf(rows), Scales: map[string]int{}, Reasons: map[string]int{}}
	s.countRows(rows)
	s.Readings.Faults = a.Readings.BadRows()
	compared := chosen(rows, func(r *Row) bool { return r.compared() })
	s.Readings.Compared = len(compared)
	s.Shared = rounded(sharedU(compared))
	s.All = agreementOf(compared, s.Shared)
	s.ByFitter = groups(compared, s.Shared, func(r *Row) string { return r.Fitter })
	s.ByYear = groups(compared, s.Shared, yearOf)
	s.Drifts = drifts(compared)
	s.Proportional = proportional(compared)
	s.OldRepeat = repeatOf(compared, func(r *Row) *float64 { return r.Reading })
	s.NewRepeat = repeatOf(compared, func(r *Row) *float64 { return r.Spacing })
	s.Outliers = nameOutliers(a, compared)
	return s
}

// countRows counts what needs no comparison, and lists whom to call back.
func (s *Statistics) countRows(rows []Row) {
	var us []float64
	for i := range rows {
		r := &rows[i]
		if r.counts() {
			us = append(us, *r.U)
		}
		if r.Spacing != nil && r.Status != Duplicate {
			s.Scales[cmp.Or(r.Scale, "unknown")]++
		}
		if !r.counts() && r.Status != Duplicate && r.Code != "" {
			s.Reasons[r.Code]++
		}
		s.countReading(r)
	}
	slices.SortStableFunc(s.CallBacks, func(a, b NamedValue) int {
		return cmp.Or(cmp.Compare(b.Value, a.Value), cmp.Compare(a.File, b.File))
	})
	s.Uncertainty = spreadOf(us)
}

func (s *Statistics) countReading(r *Row) {
	if r.reading == nil {
		return
	}
	if !r.compared() {
		s.Readings.NotCompared++
		return
	}
	if r.reading.UAssumed {
		s.Readings.AssumedU++
	}
	if math.Abs(*r.En) > 1 {
		s.Disagree++
	}
	switch r.Change {
	case Wider:
		s.Widths.Wider++
	case Narrower:
		s.Widths.Narrower++
	case Same:
		s.Widths.Same++
	case Open:
		s.Widths.Open++
	}
	switch {
	case r.Shortfall != nil:
		s.CallBacks = append(s.CallBacks, NamedValue{r.File, *r.Shortfall})
	case r.Holds != nil && *r.Holds < unsureBelow:
		s.Unsure++
	}
}

// unsureBelow is the probability below which a width that was sold, and is wide
// enough as measured, is counted as unsure.
const unsureBelow = 0.95

func spreadOf(values []float64) *Spread {
	if len(values) == 0 {
		return nil
	}
	slices.Sort(values)
	at := func(p float64) float64 { return rounded(values[int(math.Ceil(p*float64(len(values))))-1]) }
	return &Spread{at(0.5), at(0.9), rounded(values[len(values)-1])}
}

func differencesOf(rows []*Row) []float64 {
	d := make([]float64, len(rows))
	for i, r := range rows {
		d[i] = *r.Difference
	}
	return d
}

// sharedU is the standard uncertainty of the mean of all new measurements that
// comes from what they have in common: each source acts on all its pictures
// alike, so its contributions add up as they are (JCGM 100:2008, 5.2.2, note 1),
// and the sources in quadrature.
func sharedU(rows []*Row) float64 {
	sums := make(map[string]float64)
	for _, r := range rows {
		for _, l := range r.shared {
			sums[l.source] += l.mm
		}
	}
	var square float64
	for _, sum := range sums {
		square += math.Pow(sum/float64(len(rows)), 2)
	}
	return math.Sqrt(square)
}

// agreementOf is nil for fewer than three differences.
func agreementOf(rows []*Row, shared float64) *Agreement {
	a, err := precision.LimitsOfAgreement(differencesOf(rows))
	if err != nil {
		return nil
	}
	half := (a.BiasInterval.High - a.BiasInterval.Low) / 2
	with := math.Hypot(half, 2*shared)
	return &Agreement{
		N: a.N, Bias: rounded(a.Bias), BiasInterval: interval(a.BiasInterval), SD: rounded(a.SD),
		BiasWithShared: Interval{rounded(a.Bias - with), rounded(a.Bias + with)},
		Lower:          rounded(a.Lower), LowerInterval: interval(a.LowerInterval),
		Upper: rounded(a.Upper), UpperInterval: interval(a.UpperInterval),
	}
}

func interval(i precision.Interval) Interval { return Interval{rounded(i.Low), rounded(i.High)} }

// groups are the rows by a name, in the names' order; rows without are left out.
func groups(rows []*Row, shared float64, name func(*Row) string) []Group {
	parts := partsOf(rows, name)
	out := []Group{}
	for _, n := range sortedNames(parts) {
		g := Group{Name: n, N: len(parts[n]), Mean: rounded(precision.Mean(differencesOf(parts[n])))}
		g.Agreement = agreementOf(parts[n], shared)
		out = append(out, g)
	}
	return out
}

func partsOf(rows []*Row, name func(*Row) string) map[string][]*Row {
	parts := make(map[string][]*Row)
	for _, r := range rows {
		if n := name(r); n != "" {
			parts[n] = append(parts[n], r)
		}
	}
	return parts
}

func sortedNames(parts map[string][]*Row) []string {
	names := make([]string, 0, len(parts))
	for n := range parts {
		names = append(names, n)
	}
	slices.Sort(names)
	return names
}

func yearOf(r *Row) string {
	if len(r.Date) < 4 {
		return ""
	}
	return r.Date[:4]
}

// nameOutliers marks the rows whose difference the rest do not explain.
func nameOutliers(a *Account, compared []*Row) []NamedValue {
	named := []NamedValue{}
	found, err := precision.Outliers(differencesOf(compared), outlierLevel, min(mostOutliers, max(1, len(compared)/10)))
	if err != nil {
		return named
	}
	files := make(map[string]bool)
	for _, o := range found {
		named = append(named, NamedValue{compared[o.Index].File, rounded(o.Value)})
		files[compared[o.Index].File] = true
	}
	for i := range a.Rows {
		a.Rows[i].Outlier = files[a.Rows[i].File]
	}
	return named
}
