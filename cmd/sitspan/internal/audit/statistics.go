package audit

import (
	"cmp"
	"maps"
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

// pair is an old reading and the new measurement that it is compared with.
type pair struct {
	*Reading
	n          int    // the file's place among the rows
	file       string // its name
	old, now   float64
	difference float64
}

// counter counts rows, one after the other in the order of the files' names. Of
// each comparison it keeps the numbers; of other rows it keeps none.
type counter struct {
	s        Statistics
	us       map[float64]int // rows that count by their U, which has thousandths
	shared   map[string]float64
	pairs    []*pair
	variance float64      // the sum of the compared measurements' u squared, mm²
	outliers map[int]bool // by the file's place
}

func newCounter() *counter {
	return &counter{s: Statistics{Schema: runSchema, Scales: map[string]int{}, Reasons: map[string]int{}}, us: map[float64]int{}, shared: map[string]float64{}}
}

// add counts a row; shared are the lines of its budget.
func (c *counter) add(n int, r *Row, shared []sharedLine) {
	c.s.Tally.add(r)
	if r.counts() {
		c.us[*r.U]++
	}
	if r.Spacing != nil && r.Status != Duplicate {
		c.s.Scales[cmp.Or(r.Scale, "unknown")]++
	}
	if !r.counts() && r.Status != Duplicate && r.Code != "" {
		c.s.Reasons[r.Code]++
	}
	switch {
	case r.reading == nil:
	case !r.compared():
		c.s.Readings.NotCompared++
	default:
		c.s.countReading(r)
		c.pairs = append(c.pairs, &pair{r.reading, n, r.nameInMemory(), *r.Reading, *r.Spacing, *r.Difference})
		c.variance += *r.U * *r.U / 4
		for _, l := range shared {
			c.shared[l.Code] += l.MM
		}
	}
}

// nameInMemory is the file's name, as the reading has it where that is the same,
// so that it is held once.
func (r *Row) nameInMemory() string {
	if r.reading.File == r.File {
		return r.reading.File
	}
	return r.File
}

// statistics are what was counted; badRows are the readings' that cannot be used.
func (c *counter) statistics(id Identity, badRows int) Statistics {
	s, pairs := c.s, c.pairs
	s.Version, s.Model, s.Readings.Faults = id.Version, id.Model, badRows
	slices.SortStableFunc(s.CallBacks, func(a, b NamedValue) int {
		return cmp.Or(cmp.Compare(b.Value, a.Value), cmp.Compare(a.File, b.File))
	})
	s.Uncertainty = spreadOf(c.us)
	s.Readings.Compared = len(pairs)
	s.Shared = rounded(sharedU(c.shared, len(pairs)))
	s.All = agreementOf(pairs, s.Shared)
	s.ByFitter = groups(pairs, s.Shared, func(p *pair) string { return p.Fitter })
	s.ByYear = groups(pairs, s.Shared, yearOf)
	s.Drifts = drifts(pairs)
	s.Proportional = proportional(pairs, c.variance/float64(len(pairs)))
	s.OldRepeat = repeatOf(pairs, func(p *pair) float64 { return p.old })
	s.NewRepeat = repeatOf(pairs, func(p *pair) float64 { return p.now })
	s.Outliers = c.nameOutliers()
	return s
}

// countReading counts a row that is compared, and lists whom to call back.
func (s *Statistics) countReading(r *Row) {
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
		s.CallBacks = append(s.CallBacks, NamedValue{r.nameInMemory(), *r.Shortfall})
	case r.Holds != nil && *r.Holds < unsureBelow:
		s.Unsure++
	}
}

// unsureBelow is the probability below which a width that was sold, and is wide
// enough as measured, is counted as unsure.
const unsureBelow = 0.95

// spreadOf tells values by how often each is there.
func spreadOf(counts map[float64]int) *Spread {
	if len(counts) == 0 {
		return nil
	}
	values, total := slices.Sorted(maps.Keys(counts)), 0
	for _, n := range counts {
		total += n
	}
	at := func(p float64) float64 { // the value that so many are at most
		rank := int(math.Ceil(p * float64(total)))
		for _, v := range values {
			if rank -= counts[v]; rank <= 0 {
				return rounded(v)
			}
		}
		return rounded(values[len(values)-1])
	}
	return &Spread{at(0.5), at(0.9), at(1)}
}

func differencesOf(pairs []*pair) []float64 {
	d := make([]float64, len(pairs))
	for i, p := range pairs {
		d[i] = p.difference
	}
	return d
}

// sharedU is the standard uncertainty of the mean of n new measurements that
// comes from what they have in common: each source acts on all its pictures
// alike, so its contributions add up as they are (JCGM 100:2008, 5.2.2, note 1),
// and the sources in quadrature. sums are the contributions by source.
func sharedU(sums map[string]float64, n int) float64 {
	var square float64
	for _, source := range slices.Sorted(maps.Keys(sums)) {
		square += math.Pow(sums[source]/float64(n), 2)
	}
	return math.Sqrt(square)
}

// agreementOf is nil for fewer than three differences.
func agreementOf(pairs []*pair, shared float64) *Agreement {
	a, err := precision.LimitsOfAgreement(differencesOf(pairs))
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

// groups are the pairs by a name, in the names' order; pairs without are left out.
func groups(pairs []*pair, shared float64, name func(*pair) string) []Group {
	parts := partsOf(pairs, name)
	out := []Group{}
	for _, n := range sortedNames(parts) {
		g := Group{Name: n, N: len(parts[n]), Mean: rounded(precision.Mean(differencesOf(parts[n])))}
		g.Agreement = agreementOf(parts[n], shared)
		out = append(out, g)
	}
	return out
}

func partsOf(pairs []*pair, name func(*pair) string) map[string][]*pair {
	parts := make(map[string][]*pair)
	for _, p := range pairs {
		if n := name(p); n != "" {
			parts[n] = append(parts[n], p)
		}
	}
	return parts
}

func sortedNames(parts map[string][]*pair) []string { return slices.Sorted(maps.Keys(parts)) }

func yearOf(p *pair) string {
	if len(p.Date.Text) < 4 {
		return ""
	}
	return p.Date.Text[:4]
}

// nameOutliers marks the pairs whose difference the rest do not explain.
func (c *counter) nameOutliers() []NamedValue {
	named := []NamedValue{}
	found, err := precision.Outliers(differencesOf(c.pairs), outlierLevel, min(mostOutliers, max(1, len(c.pairs)/10)))
	if err != nil {
		return named
	}
	c.outliers = make(map[int]bool)
	for _, o := range found {
		p := c.pairs[o.Index]
		named = append(named, NamedValue{p.file, rounded(o.Value)})
		c.outliers[p.n] = true
	}
	return named
}
