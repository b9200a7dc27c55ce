package report

import (
	"maps"
	"slices"
	"time"

	"sitspan/cmd/sitspan/internal/audit/archive"
	"sitspan/cmd/sitspan/internal/audit/statistics"
)

// sale is a saddle that was sold, as its row judges it.
type sale struct {
	n      int // the file's place
	file   string
	at     time.Time
	judged bool    // the row's number counts, and says what is required
	short  float64 // by so much it is too narrow, mm
	unsure bool    // wide enough as measured, but not surely
}

// unsureBelow is the probability below which a width that was sold, and is wide
// enough as measured, is counted as unsure.
const unsureBelow = 0.95

// addSale keeps a rider's latest sale: whoever has a wider saddle by now need not be
// called for an older one. A rider without a name is another one each time.
func (c *Counter) addSale(n int, r *Row) {
	if r.Read == nil || r.Sold == nil || r.Status == archive.Duplicate {
		return
	}
	s := sale{n: n, file: r.nameInMemory(), at: r.Read.Date.Middle, judged: r.Counts() && r.Holds != nil}
	if s.judged && r.Shortfall != nil {
		s.short = *r.Shortfall
	} else if s.judged {
		s.unsure = *r.Holds < unsureBelow
	}
	if r.Rider == "" {
		c.judge(s)
	} else if old, there := c.sales[r.Rider]; !there || s.after(old) {
		c.sales[r.Rider] = s
	}
}

// after says whether a sale is later than another of the rider's. Of one day, that
// with a number that can be used is taken, then the one that is more too narrow.
func (s sale) after(other sale) bool {
	switch {
	case !s.at.Equal(other.at):
		return s.at.After(other.at)
	case s.judged != other.judged:
		return s.judged
	}
	return s.short > other.short
}

func (c *Counter) judge(s sale) {
	if s.short > 0 || s.unsure {
		c.callBack[s.n] = s
	}
}

// judgeSales gives whom to call back, a row a rider, and how many others were sold a
// width that may not do. callBack keeps the first.
func (c *Counter) judgeSales() (back []statistics.NamedValue, unsure int) {
	for _, s := range c.sales {
		c.judge(s)
	}
	for _, n := range slices.Sorted(maps.Keys(c.callBack)) {
		s := c.callBack[n]
		if s.short > 0 {
			back = append(back, statistics.NamedValue{File: s.file, Value: s.short})
			continue
		}
		unsure++
		delete(c.callBack, n)
	}
	return back, unsure
}
