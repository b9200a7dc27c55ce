package audit

import (
	"cmp"
	"fmt"
	"iter"
	"slices"

	"sitspan/cmd/sitspan/internal/audit/archive"
	"sitspan/cmd/sitspan/internal/audit/report"
	"sitspan/cmd/sitspan/internal/audit/statistics"
	"sitspan/cmd/sitspan/internal/words"
	"sitspan/fit"
)

// Review is how measurements are compared with what was read and sold before.
type Review struct {
	Lang     words.Lang // of the report
	Readings statistics.Readings
	Advisor  fit.Advisor
	Posture  *fit.Posture // for files whose reading states none; may be nil
	TrunkU   float64      // standard uncertainty of a reading's trunk angle, deg
	// Watch is told how far the explaining is; it may be nil.
	Watch func(archive.Progress)
}

// steps tells how far a stage of explaining is that takes so many steps.
func (v Review) steps(stage string, total int) (step func()) {
	if v.Watch == nil {
		return func() {}
	}
	p := archive.Progress{Stage: stage, Total: total}
	return func() {
		p.Done++
		v.Watch(p)
	}
}

// write makes the account and its files. Each step is a pass over what the one
// before left on the disk, so that memory does not grow with the files.
func (v Review) write(r archive.Results, s *archive.Scratch, id archive.Identity) (*report.Account, error) {
	files, err := r.Files()
	if err != nil {
		return nil, err
	}
	a := &report.Account{Lang: v.Lang, Identity: id, Readings: v.Readings, Counted: report.NewCounter()}
	a.Readings.Faults = slices.Clone(v.Readings.Faults)
	rows, err := v.explain(r, s, a, files)
	if err != nil {
		return nil, err
	}
	a.Statistics = a.Counted.Statistics(id, a.Readings)
	if t := a.Statistics.Tally; !t.Closes() || t.Files != files {
		return nil, words.Fault("error.audit.tally", words.Values{"tally": fmt.Sprintf("%+v", t), "files": files})
	}
	return a, a.Write(r, rows.All(), v.steps("writing rows", files))
}

// explain makes the rows of n files in the order of their names, and counts them.
func (v Review) explain(
	r archive.Results, s *archive.Scratch, a *report.Account, n int,
) (*archive.Table[report.Row], error) {
	found, err := archive.Find(r, s, v.steps("reading records", n))
	if err != nil {
		return nil, err
	}
	a.Throughput = found.Throughput
	read := newReadingFiles(v.Readings.Rows)
	copies, err := found.Duplicates(s, read.see, v.steps("comparing pictures", found.Throughput.Photos))
	if err != nil {
		return nil, err
	}
	shard, err := archive.ParseShard(a.Identity.Shard)
	if err != nil {
		return nil, err
	}
	readings, err := read.attach(&a.Readings, copies, shard)
	if err != nil {
		return nil, err
	}
	rows := archive.NewTable[report.Row](s, nil)
	for row, err := range v.finish(r, a, found.Drafts, copies, readings, v.steps("comparing readings", n)) {
		if err == nil {
			err = rows.Add(row)
		}
		if err != nil {
			return nil, err
		}
	}
	return rows, nil
}

// finish makes the rows of the drafts: duplicates are named, readings compared and
// widths chosen. What the statistics need is counted on the way.
func (v Review) finish(
	r archive.Results, a *report.Account, drafts *archive.Table[archive.Draft],
	copies *archive.Table[archive.Copy], readings map[int]*statistics.Reading, step func(),
) iter.Seq2[report.Row, error] {
	return func(yield func(report.Row, error) bool) {
		duplicates := archive.OpenBeside(copies.All())
		defer duplicates.Close()
		for d, err := range drafts.All() {
			var row report.Row
			if err == nil {
				row, err = v.finishOne(r, &d, duplicates, readings[d.N])
			}
			if err == nil {
				a.Counted.Add(d.N, &row, d.Shared)
				step()
			}
			if !yield(row, err) {
				return
			}
		}
	}
}

func (v Review) finishOne(
	r archive.Results, d *archive.Draft, duplicates *archive.Beside[archive.Copy],
	reading *statistics.Reading,
) (report.Row, error) {
	c, isCopy, err := duplicates.Find(func(c *archive.Copy) int { return cmp.Compare(c.N, d.N) })
	if err != nil {
		return report.Row{}, err
	}
	if isCopy {
		d.File.Status, d.File.Of, d.File.By = archive.Duplicate, c.Of, c.By
	}
	row := report.RowOf(d.File)
	if reading != nil {
		take(&row, reading)
	}
	return row, v.chooseWidth(r, &row)
}
