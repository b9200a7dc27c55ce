package report

import (
	"cmp"
	"slices"

	"sitspan/cmd/sitspan/internal/audit/archive"
	"sitspan/cmd/sitspan/internal/audit/statistics"
	"sitspan/cmd/sitspan/internal/record"
)

// top keeps the first rows of an order, and counts them all.
type top struct {
	most    int
	compare func(a, b *Row) int // nil is the order in which they come
	rows    []*Row
	all     int
}

func (t *top) add(r *Row) {
	t.all++
	if t.compare == nil && len(t.rows) == t.most {
		return
	}
	if t.rows = append(t.rows, r); len(t.rows) > 2*t.most {
		t.cut()
	}
}

// cut leaves the first rows alone, equal ones in the order in which they came.
func (t *top) cut() {
	if t.compare != nil {
		slices.SortStableFunc(t.rows, t.compare)
	}
	if len(t.rows) > t.most {
		clear(t.rows[t.most:])
		t.rows = t.rows[:t.most]
	}
}

// list is a list of rows, and how many more there are.
type list struct {
	Rows []*Row
	More int
}

func (t *top) list() list {
	t.cut()
	return list{t.rows, t.all - len(t.rows)}
}

// lists are the rows that the report shows.
type lists struct {
	callBacks, reviews top // worst first
	bad, left          top // in the order of their names
	outliers           top
	pictures           top // for the contact sheet: those first that somebody must look at
}

func newLists() lists {
	return lists{
		callBacks: top{most: mostCallBacks, compare: worst}, reviews: top{most: mostListed, compare: worst},
		bad: top{most: mostListed}, left: top{most: mostListed}, outliers: top{most: statistics.MostOutliers},
		pictures: top{
			most:    mostPictures,
			compare: func(a, b *Row) int { return cmp.Compare(a.urgency(), b.urgency()) },
		},
	}
}

// add takes the rows in the order of their names.
func (l *lists) add(r Row) {
	if r.CallBack {
		l.callBacks.add(&r)
	}
	if r.Outlier {
		l.outliers.add(&r)
	}
	switch r.Status {
	case record.Review:
		l.reviews.add(&r)
	case record.Refused, record.Failed:
		l.bad.add(&r)
	case archive.Duplicate, archive.Ignored:
		l.left.add(&r)
	}
	if r.Overlay != "" && r.Status != archive.Duplicate {
		l.pictures.add(&r)
	}
}

// worst puts the rows first whose saddle would be too narrow, the worst one before
// the others.
func worst(a, b *Row) int { return cmp.Compare(shortfall(b), shortfall(a)) }

func shortfall(r *Row) float64 {
	if r.Shortfall == nil {
		return 0
	}
	return *r.Shortfall
}

// urgency is 0 for what somebody must look at.
func (r *Row) urgency() int {
	switch {
	case r.Status == record.Review, r.CallBack, r.Outlier:
		return 0
	case r.Status == record.Measured:
		return 1
	}
	return 2
}

// contactSheet is a page of overlays.
type contactSheet struct {
	Number, Of int
	Rows       []*Row
}

// contactSheets are the pictures a page at a time, in the order of their names.
func contactSheets(pictures list) (sheets []contactSheet, leftOut int) {
	slices.SortStableFunc(pictures.Rows, func(a, b *Row) int { return cmp.Compare(a.File, b.File) })
	of := (len(pictures.Rows) + picturesAPage - 1) / picturesAPage
	for chunk := range slices.Chunk(pictures.Rows, picturesAPage) {
		sheets = append(sheets, contactSheet{len(sheets) + 1, of, chunk})
	}
	return sheets, pictures.More
}
