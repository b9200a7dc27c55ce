package audit

import (
	"cmp"
	"crypto/sha256"
	"encoding/hex"
	"fmt"
	"math"
	"slices"

	"sitspan/calibration/precision"
	"sitspan/cmd/sitspan/internal/record"
	"sitspan/fit"
)

// Review is how measurements are compared with what was read and sold before.
type Review struct {
	Readings Readings
	Advisor  fit.Advisor
	Posture  *fit.Posture // for files whose reading states none; may be nil
	TrunkU   float64      // standard uncertainty of a reading's trunk angle, deg
}

// Account is what an audit found: all that the rows, the statistics and the
// report say.
type Account struct {
	Identity   Identity
	Rows       []Row // in the order of the files' names
	Statistics Statistics
	Readings   Readings // with the faults that only the files show
	Throughput Throughput
}

// Throughput is how long the photos took, in seconds of their workers.
type Throughput struct {
	Photos                 int
	Seconds, DecodeSeconds float64
}

func (t *Throughput) add(d Done) {
	t.Photos++
	t.Seconds += d.Seconds
	t.DecodeSeconds += d.DecodeSeconds
}

// account makes the account from what was measured. Entries are in the order of
// their paths.
func (v Review) account(r results, id Identity, entries []Entry, known map[string]*Done) (*Account, error) {
	a := &Account{Identity: id, Readings: v.Readings}
	a.Readings.Faults = slices.Clone(v.Readings.Faults)
	looks, err := a.fillRows(r, entries, known)
	if err != nil {
		return nil, err
	}
	a.markDuplicates(looks)
	a.attachReadings()
	if err := v.chooseWidths(r, a); err != nil {
		return nil, err
	}
	a.Statistics = statisticsOf(a)
	return a, nil
}

// fillRows empties known: it gives each file its row, and each content that may be compared with
// others its look, at its first file.
func (a *Account) fillRows(r results, entries []Entry, known map[string]*Done) ([]*look, error) {
	looks := make([]*look, len(entries))
	a.Rows = make([]Row, 0, len(entries))
	first := make(map[string]int32, len(known)) // row of each content
	for i, e := range entries {
		if e.Trouble != nil {
			a.Rows = append(a.Rows, troubleRow(e))
			continue
		}
		k, seen := first[e.SHA256]
		if seen {
			a.Rows = append(a.Rows, a.Rows[k].of(e))
			continue
		}
		d, there := known[e.SHA256]
		if !there {
			return nil, fmt.Errorf("%s was not measured: go on with the audit by --resume", e.Path)
		}
		delete(known, e.SHA256) // the row has all that is needed from here on
		f, err := loadFinding(r, *d)
		if err != nil {
			return nil, err
		}
		first[e.SHA256], looks[i] = int32(i), f.look
		a.Throughput.add(*d)
		if len(a.Readings.Rows) == 0 {
			f.shared = nil // for the comparisons alone
		}
		a.Rows = append(a.Rows, f.row(e))
	}
	return looks, nil
}

// markDuplicates leaves one file to count of those that have one content, or are
// one picture saved again: a measured one before one to be reviewed, then one
// with a reading of its own, then the one of smaller uncertainty, then the first
// by name. A content that is no picture has no copies: each such file is a row of
// its own.
func (a *Account) markDuplicates(looks []*look) {
	read := make(map[string]bool, len(a.Readings.Rows))
	for _, r := range a.Readings.Rows {
		read[r.File] = true
	}
	same := newSets(len(a.Rows))
	first := make(map[string]int)
	for i := range a.Rows {
		row := &a.Rows[i]
		if row.SHA256 == "" || row.Status == record.Failed || row.Status == Ignored {
			continue
		}
		if k, seen := first[row.SHA256]; seen {
			same.join(i, k)
		} else {
			first[row.SHA256] = i
		}
	}
	for _, group := range savedAgain(looks) {
		for _, i := range group[1:] {
			same.join(i, group[0])
		}
	}
	for _, group := range same.groups() {
		best := slices.MinFunc(group, func(i, k int) int { return a.Rows[i].before(&a.Rows[k], read) })
		for _, i := range group {
			if i != best {
				a.Rows[i].becomeDuplicate(a.Rows[best])
			}
		}
	}
}

// before puts the row that should be counted first; read are the files that have
// readings.
func (r *Row) before(other *Row, read map[string]bool) int {
	rank := func(good bool) int {
		if good {
			return 0
		}
		return 1
	}
	u := func(r *Row) float64 {
		if r.U == nil {
			return math.Inf(1)
		}
		return *r.U
	}
	return cmp.Or(cmp.Compare(rank(r.counts()), rank(other.counts())), cmp.Compare(rank(read[composed(r.File)]), rank(read[composed(other.File)])),
		cmp.Compare(u(r), u(other)), cmp.Compare(r.File, other.File))
}

func (r *Row) becomeDuplicate(of Row) {
	r.Status, r.Of, r.By = Duplicate, of.File, SavedAgain
	if r.SHA256 == of.SHA256 {
		r.By = SameContent
	}
}

// attachReadings gives the rows their readings. A duplicate's reading goes to
// the file that counts, unless that has its own.
func (a *Account) attachReadings() {
	if len(a.Readings.Rows) == 0 {
		return
	}
	byFile := make(map[string]int, len(a.Rows))
	for i, r := range a.Rows {
		byFile[composed(r.File)] = i
	}
	for i, r := range a.Rows { // where two names differ in this alone, the one as written
		byFile[r.File] = i
	}
	ofCopies := a.ownReadings(byFile)
	slices.SortFunc(ofCopies, func(i, k *Reading) int { return cmp.Compare(i.File, k.File) })
	for _, reading := range ofCopies {
		row := &a.Rows[byFile[a.Rows[byFile[reading.File]].Of]]
		if row.reading == nil {
			row.take(reading)
			continue
		}
		a.Readings.Faults = append(a.Readings.Faults, fit.Fault{File: a.Readings.Name, Line: reading.Line, Field: "file", Value: reading.File,
			Expected: fmt.Sprintf("one reading a picture: this is %s again, which line %d has", row.File, row.reading.Line)})
	}
	slices.SortStableFunc(a.Readings.Faults, func(x, y fit.Fault) int {
		return cmp.Or(cmp.Compare(x.Line, y.Line), cmp.Compare(x.Column, y.Column))
	})
}

// ownReadings attaches the readings of files that count, and returns those of
// duplicates.
func (a *Account) ownReadings(byFile map[string]int) (ofCopies []*Reading) {
	for i := range a.Readings.Rows {
		reading := &a.Readings.Rows[i]
		at, there := byFile[reading.File]
		switch {
		case !there:
			a.Readings.Faults = append(a.Readings.Faults, fit.Fault{File: a.Readings.Name, Line: reading.Line, Field: "file", Value: reading.File,
				Expected: "a file of the audited folder, by its name from there"})
		case a.Rows[at].Status == Duplicate:
			ofCopies = append(ofCopies, reading)
		default:
			a.Rows[at].take(reading)
		}
	}
	return ofCopies
}

// take compares the row's number with a reading: the difference is what the old
// way read too much, and E_n has expanded uncertainties, k = 2 for the reading.
func (r *Row) take(reading *Reading) {
	r.reading = reading
	r.Reading, r.ReadingU, r.Rider, r.Fitter, r.Date = ptr(reading.SpacingMM), ptr(reading.UMM), reading.Rider, reading.Fitter, reading.Date.Text
	r.Sold = roundedPtr(reading.SoldMM)
	if r.Spacing == nil || r.U == nil {
		return
	}
	r.Difference = ptr(reading.SpacingMM - *r.Spacing)
	r.En = ptr(precision.Normalised(reading.SpacingMM, 2*reading.UMM, *r.Spacing, *r.U))
}

// pathHash names a file that has no content to be named by.
func pathHash(path string) string {
	sum := sha256.Sum256([]byte(path))
	return hex.EncodeToString(sum[:])
}
