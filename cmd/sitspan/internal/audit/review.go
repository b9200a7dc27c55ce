package audit

import (
	"cmp"
	"crypto/sha256"
	"encoding/hex"
	"iter"
	"slices"

	"sitspan/fit"
)

// Review is how measurements are compared with what was read and sold before.
type Review struct {
	Readings Readings
	Advisor  fit.Advisor
	Posture  *fit.Posture // for files whose reading states none; may be nil
	TrunkU   float64      // standard uncertainty of a reading's trunk angle, deg
	// Watch is told how far the explaining is; it may be nil.
	Watch func(Progress)
}

// Account is what an audit found: all that the statistics and the report say. The
// rows are in the folder of results.
type Account struct {
	Identity   Identity
	Statistics Statistics
	Readings   Readings // with the faults that only the files show
	Throughput Throughput

	counted *counter
	lists   lists
}

// Throughput is how long the photos took, in seconds of their workers.
type Throughput struct {
	Photos                 int
	Seconds, DecodeSeconds float64
}

func (t *Throughput) add(d *Done) {
	t.Photos++
	t.Seconds += d.Seconds
	t.DecodeSeconds += d.DecodeSeconds
}

// steps tells how far a stage of explaining is that takes so many steps.
func (v Review) steps(stage string, total int) (step func()) {
	if v.Watch == nil {
		return func() {}
	}
	p := Progress{Stage: stage, Total: total}
	return func() {
		p.Done++
		v.Watch(p)
	}
}

// explain makes the account of n files, and the rows in the order of the files'
// names, from files.jsonl, the journal and the records. Each step is a pass over
// what the one before left on the disk, so that memory does not grow with the
// files.
func (v Review) explain(r results, s *spill, id Identity, n int) (a *Account, rows string, err error) {
	a = &Account{Identity: id, Readings: v.Readings, counted: newCounter()}
	a.Readings.Faults = slices.Clone(v.Readings.Faults)
	drafts, looks, err := a.draftRows(r, s, v.steps("reading records", n))
	if err != nil {
		return nil, "", err
	}
	same, err := savedAgain(s, looks, v.steps("comparing pictures", a.Throughput.Photos))
	if err != nil {
		return nil, "", err
	}
	read := newReadingFiles(v.Readings.Rows)
	copies, err := duplicatesOf(s, drafts.all(), same, read)
	if err != nil {
		return nil, "", err
	}
	readings, err := read.attach(&a.Readings, copies)
	if err != nil {
		return nil, "", err
	}
	if rows, err = spillLines(s, v.finish(r, a, drafts, copies, readings, v.steps("comparing readings", n))); err != nil {
		return nil, "", err
	}
	a.Statistics = a.counted.statistics(id, a.Readings.BadRows())
	return a, rows, nil
}

// draftRows gives each file its row as its content was found, and each content
// that may be compared with others its look.
func (a *Account) draftRows(r results, s *spill, step func()) (*sorter[draft], *sorter[look], error) {
	drafts := newSorter(s, func(a, b *draft) int { return cmp.Compare(a.N, b.N) })
	looks := newSorter(s, bySpan)
	var f finding // of the last content
	err := r.eachContent(s, func(n int, e Entry) error {
		step()
		return drafts.add(draft{N: n, Content: n, Row: troubleRow(e)})
	}, func(c content) (err error) {
		step()
		if c.N == c.First {
			if f, err = loadFinding(r, c); err != nil {
				return err
			}
			a.Throughput.add(c.Done)
			if f.look != nil {
				if err := looks.add(*f.look); err != nil {
					return err
				}
			}
		}
		return drafts.add(draft{N: c.N, Content: c.First, Row: f.row(c.Entry), Shared: f.shared})
	})
	return drafts, looks, err
}

// finish makes the rows of the drafts: duplicates are named, readings compared and
// widths chosen. What the statistics need is counted on the way.
func (v Review) finish(r results, a *Account, drafts *sorter[draft], copies *sorter[copied], readings map[int]*Reading, step func()) iter.Seq2[Row, error] {
	return func(yield func(Row, error) bool) {
		duplicates := openBeside(copies.all())
		defer duplicates.close()
		for d, err := range drafts.all() {
			if err == nil {
				err = v.finishOne(r, &d, duplicates, readings[d.N])
			}
			if err == nil {
				a.counted.add(d.N, &d.Row, d.Shared)
				step()
			}
			if !yield(d.Row, err) {
				return
			}
		}
	}
}

func (v Review) finishOne(r results, d *draft, duplicates *beside[copied], reading *Reading) error {
	c, isCopy, err := duplicates.find(func(c *copied) int { return cmp.Compare(c.N, d.N) })
	if err != nil {
		return err
	}
	if isCopy {
		d.Row.Status, d.Row.Of, d.Row.By = Duplicate, c.Of, c.By
	}
	if reading != nil {
		d.Row.take(reading)
	}
	return v.chooseWidth(r, &d.Row)
}

// pathHash names a file that has no content to be named by.
func pathHash(path string) string {
	sum := sha256.Sum256([]byte(path))
	return hex.EncodeToString(sum[:])
}
