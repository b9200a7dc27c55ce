package audit

import (
	"cmp"
	"slices"

	"sitspan/calibration/fault"
	"sitspan/calibration/precision"
	"sitspan/cmd/sitspan/internal/audit/archive"
	"sitspan/cmd/sitspan/internal/audit/report"
	"sitspan/cmd/sitspan/internal/audit/statistics"
	"sitspan/fit"
)

// readingFiles finds the file of each reading while the files are gone through.
type readingFiles struct {
	readings []statistics.Reading
	byFile   []int32 // places in readings, in the order of their files' names
	at       []int   // number of the file, by byFile's order; -1 for none
	exact    []bool  // and whether it is written as the reading has it
}

func newReadingFiles(readings []statistics.Reading) *readingFiles {
	f := &readingFiles{
		readings: readings,
		byFile:   make([]int32, len(readings)),
		at:       make([]int, len(readings)),
		exact:    make([]bool, len(readings)),
	}
	for i := range readings {
		f.byFile[i], f.at[i] = int32(i), -1
	}
	slices.SortFunc(f.byFile, func(i, k int32) int { return cmp.Compare(readings[i].File, readings[k].File) })
	return f
}

// see says whether a file has a reading. Where two names differ only in how an
// umlaut is kept, the one as written has it.
func (f *readingFiles) see(n int, file string) bool {
	name := statistics.Composed(file)
	i, there := slices.BinarySearchFunc(
		f.byFile, name, func(k int32, name string) int { return cmp.Compare(f.readings[k].File, name) },
	)
	if !there {
		return false
	}
	if exact := file == name; exact || !f.exact[i] {
		f.at[i], f.exact[i] = n, exact
	}
	return true
}

// attach gives the readings by the number of the file that each is compared with.
// A duplicate's reading goes to the file that counts, unless that has its own.
// Readings of no file, and second ones of a picture, are faults; those of files that
// are in another shard are counted.
func (f *readingFiles) attach(
	to *statistics.Readings, copies *archive.Table[archive.Copy], shard archive.Shard,
) (map[int]*statistics.Reading, error) {
	byNumber := make([]int, len(f.at))
	for i := range byNumber {
		byNumber[i] = i
	}
	slices.SortFunc(byNumber, func(i, k int) int { return cmp.Compare(f.at[i], f.at[k]) })
	beside := archive.OpenBeside(copies.All())
	defer beside.Close()
	out := make(map[int]*statistics.Reading, len(f.at))
	type ofCopy struct {
		i int
		archive.Copy
	}
	var ofCopies []ofCopy
	for _, i := range byNumber {
		reading := &f.readings[f.byFile[i]]
		if f.at[i] < 0 && !shard.MustHold(reading.File) {
			to.OtherShards++
			continue
		}
		if f.at[i] < 0 {
			to.Faults = append(
				to.Faults, faultOf(to.Name, reading, statistics.WantElsewhere.With()),
			)
			continue
		}
		c, isCopy, err := beside.Find(func(c *archive.Copy) int { return cmp.Compare(c.N, f.at[i]) })
		if err != nil {
			return nil, err
		}
		if isCopy {
			ofCopies = append(ofCopies, ofCopy{i, c})
			continue
		}
		out[f.at[i]] = reading
	}
	slices.SortFunc(ofCopies, func(a, b ofCopy) int { return cmp.Compare(a.i, b.i) })
	for _, c := range ofCopies {
		reading := &f.readings[f.byFile[c.i]]
		if own := out[c.OfN]; own != nil {
			to.Faults = append(
				to.Faults,
				faultOf(
					to.Name, reading,
					statistics.WantNoCopy.With("file", c.Of, "line", own.Line),
				),
			)
			continue
		}
		out[c.OfN] = reading
	}
	slices.SortStableFunc(to.Faults, func(x, y fit.Fault) int {
		return cmp.Or(cmp.Compare(x.Line, y.Line), cmp.Compare(x.Column, y.Column))
	})
	return out, nil
}

// faultOf is of a reading that only the files show to be of no use.
func faultOf(name string, reading *statistics.Reading, expected *fault.Fault) fit.Fault {
	return fit.Fault{File: name, Line: reading.Line, Field: "file", Value: reading.File, Expected: expected}
}

// take compares a row's number with a reading: the difference is what the old way
// read too much, and E_n has expanded uncertainties, k = 2 for the reading.
func take(r *report.Row, reading *statistics.Reading) {
	r.Read = reading
	r.Reading, r.ReadingU, r.Rider, r.Fitter, r.Date = report.Number(
		reading.SpacingMM,
	), report.Number(
		reading.UMM,
	), reading.Rider, reading.Fitter, reading.Date.Text
	r.Sold = report.RoundedOrNil(reading.SoldMM)
	if r.Spacing == nil || r.U == nil {
		return
	}
	r.Difference = report.Number(reading.SpacingMM - *r.Spacing)
	r.En = report.Number(precision.Normalised(reading.SpacingMM, 2*reading.UMM, *r.Spacing, *r.U))
}
