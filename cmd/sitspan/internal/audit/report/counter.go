package report

import (
	"cmp"
	"maps"
	"math"
	"slices"

	"sitspan/cmd/sitspan/internal/audit/archive"
	"sitspan/cmd/sitspan/internal/audit/statistics"
)

// Counter counts rows, one after the other in the order of the files' names. Of
// each comparison it keeps the numbers; of other rows it keeps none.
type Counter struct {
	s        Statistics
	us       map[float64]int // rows that count by their U, which has thousandths
	shared   map[string]float64
	pairs    []*statistics.Pair
	undrawn  string          // why the first overlay that is not there could not be drawn
	sales    map[string]sale // the latest of each rider who has a name
	callBack map[int]sale    // rows of whom to call back, by the file's place
	outliers map[int]bool    // by the file's place
}

// NewCounter counts from nothing.
func NewCounter() *Counter {
	return &Counter{
		s:  Statistics{Schema: archive.Schema, Scales: map[string]int{}, Reasons: map[string]int{}},
		us: map[float64]int{}, shared: map[string]float64{}, sales: map[string]sale{},
		callBack: map[int]sale{},
	}
}

// Add counts a row; shared are the lines of its budget.
func (c *Counter) Add(n int, r *Row, shared []archive.SharedLine) {
	c.s.Tally.add(r)
	if r.Counts() {
		c.us[*r.U]++
	}
	if r.Spacing != nil && r.Status != archive.Duplicate {
		c.s.Scales[cmp.Or(r.Scale, "unknown")]++
	}
	if !r.Counts() && r.Status != archive.Duplicate && r.Code != "" {
		c.s.Reasons[r.Code]++
	}
	if r.Undrawn != "" && r.Status != archive.Duplicate {
		c.s.Undrawn++
		c.undrawn = cmp.Or(c.undrawn, r.Undrawn)
	}
	c.addSale(n, r)
	switch {
	case r.Read == nil:
	case !r.compared():
		c.s.Readings.NotCompared++
	default:
		c.s.countReading(r)
		c.pairs = append(c.pairs, &statistics.Pair{
			Reading: r.Read, N: n, File: r.nameInMemory(), Old: *r.Reading, Now: *r.Spacing,
			U: *r.U, Difference: *r.Difference,
		})
		for _, l := range shared {
			c.shared[l.Code] += l.MM
		}
	}
}

// nameInMemory is the file's name, as the reading has it where that is the same,
// so that it is held once.
func (r *Row) nameInMemory() string {
	if r.Read.File == r.File {
		return r.Read.File
	}
	return r.File
}

// Statistics are what was counted; call it once, at the end.
func (c *Counter) Statistics(id archive.Identity, readings statistics.Readings) Statistics {
	s, pairs := c.s, c.pairs
	s.Version, s.Model = id.Version, id.Model
	s.Readings.Faults, s.Readings.OtherShards = readings.BadRows(), readings.OtherShards
	s.CallBacks, s.Unsure = c.judgeSales()
	slices.SortStableFunc(s.CallBacks, func(a, b statistics.NamedValue) int {
		return cmp.Or(cmp.Compare(b.Value, a.Value), cmp.Compare(a.File, b.File))
	})
	s.Uncertainty = spreadOf(c.us)
	s.Readings.Compared = len(pairs)
	s.Comparison, c.outliers = statistics.Compare(pairs, c.shared)
	return s
}

// countReading counts a row that is compared.
func (s *Statistics) countReading(r *Row) {
	if r.Read.UAssumed {
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
}

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
				return statistics.Rounded(v)
			}
		}
		return statistics.Rounded(values[len(values)-1])
	}
	return &Spread{at(0.5), at(0.9), at(1)}
}
