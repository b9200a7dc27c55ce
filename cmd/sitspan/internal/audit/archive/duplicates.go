package archive

import (
	"math"

	"sitspan/cmd/sitspan/internal/record"
)

// Draft is a file before it is compared with other files and with what was read
// of it.
type Draft struct {
	N       int // the file's place in files.jsonl
	Content int // that of the first file with its content
	File    File
	Shared  []SharedLine // of the budget
}

// hasCopies says whether the file may be a duplicate. A content that is no picture
// has no copies: each such file is a row of its own.
func (d *Draft) hasCopies() bool {
	return d.File.SHA256 != "" && d.File.Status != record.Failed && d.File.Status != Ignored
}

// member is a file among those that show one picture.
type member struct {
	Group   int // the smallest number of a content of the picture
	N       int
	Content int
	File    string
	Counts  bool
	Read    bool    // it has a reading of its own
	U       float64 // in thousandths, as rows have it
	Unknown bool    // U is not known
}

// order puts the file that should be counted first of its picture's.
func (m *member) order() []any {
	rank := func(good bool) int {
		if good {
			return 0
		}
		return 1
	}
	u := m.U
	if m.Unknown {
		u = math.MaxFloat64
	}
	return []any{m.Group, rank(m.Counts), rank(m.Read), u, m.File, m.N}
}

// Copy is a file that is not counted, and the one that is.
type Copy struct {
	N   int
	OfN int
	Of  string
	By  string
}

// Duplicates leaves one file to count of those that have one content, or are one
// picture saved again: a measured one before one to be reviewed, then one with a
// reading of its own, then the one of smaller uncertainty, then the first by name.
// The others are returned in the order of their names. isRead says whether a file,
// by its place and its name, has a reading.
// step is called for each picture that is compared.
func (f Found) Duplicates(s *Scratch, isRead func(int, string) bool, step func()) (*Table[Copy], error) {
	same, err := savedAgain(f.looks, step)
	if err != nil {
		return nil, err
	}
	members := NewTable(s, (*member).order)
	for d, err := range f.Drafts.All() {
		if err != nil {
			return nil, err
		}
		own := isRead(d.N, d.File.Path)
		if !d.hasCopies() {
			continue
		}
		m := member{
			Group:   same.root(d.Content),
			N:       d.N,
			Content: d.Content,
			File:    d.File.Path,
			Counts:  d.File.Counts(),
			Read:    own,
			Unknown: d.File.U == nil,
		}
		if d.File.U != nil {
			m.U = math.Round(1000 * *d.File.U)
		}
		if err := members.Add(m); err != nil {
			return nil, err
		}
	}
	out := NewTable(s, func(c *Copy) []any { return []any{c.N} })
	best := member{Group: -1}
	for m, err := range members.All() {
		if err != nil {
			return nil, err
		}
		if m.Group != best.Group {
			best = m
			continue
		}
		if err := out.Add(best.copy(m)); err != nil {
			return nil, err
		}
	}
	return out, nil
}

// copy is what a file is that shows the same picture.
func (m *member) copy(other member) Copy {
	c := Copy{N: other.N, OfN: m.N, Of: m.File, By: SavedAgain}
	if other.Content == m.Content {
		c.By = SameContent
	}
	return c
}
