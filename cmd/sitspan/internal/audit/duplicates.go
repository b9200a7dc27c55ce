package audit

import (
	"cmp"
	"iter"
	"math"

	"sitspan/cmd/sitspan/internal/record"
)

// draft is a file's row before it is compared with other files and with what was
// read of it.
type draft struct {
	N       int // the file's place in files.jsonl
	Content int // that of the first file with its content
	Row     Row
	Shared  []sharedLine // of the budget
}

// hasCopies says whether the row may be a duplicate. A content that is no picture
// has no copies: each such file is a row of its own.
func (d *draft) hasCopies() bool {
	return d.Row.SHA256 != "" && d.Row.Status != record.Failed && d.Row.Status != Ignored
}

// member is a file among those that show one picture.
type member struct {
	Group   int // the smallest number of a content of the picture
	N       int
	Content int
	File    string
	Counts  bool
	Read    bool // it has a reading of its own
	U       float64
	Unknown bool // U is not known
}

// before puts the file that should be counted first of its picture's.
func (m *member) before(other *member) int {
	rank := func(good bool) int {
		if good {
			return 0
		}
		return 1
	}
	u := func(m *member) float64 {
		if m.Unknown {
			return math.Inf(1)
		}
		return m.U
	}
	return cmp.Or(cmp.Compare(m.Group, other.Group), cmp.Compare(rank(m.Counts), rank(other.Counts)), cmp.Compare(rank(m.Read), rank(other.Read)),
		cmp.Compare(u(m), u(other)), cmp.Compare(m.File, other.File), cmp.Compare(m.N, other.N))
}

// copied is a file that is not counted, and the one that is.
type copied struct {
	N   int
	OfN int
	Of  string
	By  string
}

// duplicatesOf leaves one file to count of those that have one content, or are
// one picture saved again: a measured one before one to be reviewed, then one
// with a reading of its own, then the one of smaller uncertainty, then the first
// by name. The others are returned in the order of their names.
func duplicatesOf(s *spill, drafts iter.Seq2[draft, error], same sets, read *readingFiles) (*sorter[copied], error) {
	members := newSorter(s, (*member).before)
	for d, err := range drafts {
		if err != nil {
			return nil, err
		}
		own := read.see(d.N, d.Row.File)
		if !d.hasCopies() {
			continue
		}
		m := member{Group: same.root(d.Content), N: d.N, Content: d.Content, File: d.Row.File, Counts: d.Row.counts(), Read: own, Unknown: d.Row.U == nil}
		if d.Row.U != nil {
			m.U = *d.Row.U
		}
		if err := members.add(m); err != nil {
			return nil, err
		}
	}
	out := newSorter(s, func(a, b *copied) int { return cmp.Compare(a.N, b.N) })
	best := member{Group: -1}
	for m, err := range members.all() {
		if err != nil {
			return nil, err
		}
		if m.Group != best.Group {
			best = m
			continue
		}
		if err := out.add(best.copy(m)); err != nil {
			return nil, err
		}
	}
	return out, nil
}

// copy is what a file is that shows the same picture.
func (m *member) copy(other member) copied {
	c := copied{N: other.N, OfN: m.N, Of: m.File, By: SavedAgain}
	if other.Content == m.Content {
		c.By = SameContent
	}
	return c
}
