package audit

import (
	"math"
	"path"
	"strings"
	"unique"

	"sitspan/cmd/sitspan/internal/fingerprint"
	"sitspan/cmd/sitspan/internal/record"
)

// finding is what is known of a content that was measured, while its row is made.
type finding struct {
	done     Done
	status   string
	spacing  *float64
	u        *float64
	scale    string
	medium   string
	reviewer string
	reason   record.Reason
	warnings string
	shared   []sharedLine
	look     *look // nil where no two centres were found
}

// sharedLine is a line of a budget that all pictures of its kind have in common.
type sharedLine struct {
	source string
	mm     float64 // contribution to the spacing, standard uncertainty
}

// sharedSources are the influences that do not average out over an archive: one
// print, one scanner and one kind of pad stand behind all its pictures. A rule or
// a card in the picture is each picture's own.
var sharedSources = map[string]bool{
	"scale of the print":            true,
	"stated resolution of the scan": true,
	"depth of the dents (parallax)": true,
	"thickness of the card":         true,
}

// look is what tells a picture from others: its fingerprint, its shape, and
// where the centres lie, as shares of its width and height.
type look struct {
	print       fingerprint.Print
	width       float64 // px
	height      float64 // px
	left, right [2]float64
	mmPerWidth  float64 // mm across the whole picture
}

// loadFinding reads the record of a content.
func loadFinding(r results, d Done) (finding, error) {
	rec, err := record.Load(r.path(recordPath(d.Record)))
	if err != nil {
		return finding{}, err
	}
	m, reviewer := rec.Current()
	f := finding{done: d, status: once(m.Status), spacing: m.Spacing, u: m.U, scale: once(m.ScaleSource), medium: once(m.Medium), reviewer: once(reviewer)}
	if len(m.Reasons) > 0 {
		f.reason = m.Reasons[0]
		f.reason = record.Reason{Code: once(f.reason.Code), Message: once(f.reason.Message), Hint: once(f.reason.Hint)}
	}
	var codes []string
	for _, w := range m.Warnings {
		codes = append(codes, w.Code)
	}
	f.warnings = once(strings.Join(codes, " "))
	for _, l := range m.Budget {
		if sharedSources[l.Source] {
			f.shared = append(f.shared, sharedLine{once(l.Source), l.U})
		}
	}
	f.look = lookOf(rec, m, d)
	return f, nil
}

// lookOf is nil where there is nothing to compare by.
func lookOf(rec record.Record, m record.Measurement, d Done) *look {
	p, err := fingerprint.Parse(d.Fingerprint)
	if err != nil || m.LeftPx == nil || m.RightPx == nil || m.Spacing == nil || len(rec.Photos) != 1 {
		return nil
	}
	l := &look{print: p, width: float64(rec.Photos[0].Width), height: float64(rec.Photos[0].Height)}
	if l.width < 1 || l.height < 1 {
		return nil
	}
	l.left, l.right = l.share(*m.LeftPx), l.share(*m.RightPx)
	across := math.Hypot(m.RightPx[0]-m.LeftPx[0], m.RightPx[1]-m.LeftPx[1])
	l.mmPerWidth = *m.Spacing / across * l.width
	return l
}

// share is a pixel's place in shares of the picture; pixels are named by their
// centres.
func (l *look) share(px [2]float64) [2]float64 {
	return [2]float64{(px[0] + 0.5) / l.width, (px[1] + 0.5) / l.height}
}

// row is a file's row as its content was found.
func (f finding) row(e Entry) Row {
	r := Row{
		File: e.Path, Status: f.status, Bytes: e.Size, SHA256: e.SHA256, Record: recordPath(f.done.Record), Reviewer: f.reviewer,
		Spacing: roundedPtr(f.spacing), U: roundedPtr(f.u), Scale: f.scale, Medium: f.medium, Warnings: f.warnings, shared: f.shared,
		Code: f.reason.Code, Reason: f.reason.Message, Hint: f.reason.Hint,
	}
	if f.done.Overlay {
		r.Overlay = overlayPath(f.done.Record)
	}
	return r.of(e)
}

// of is the row for another file of the same content: what became of it depends
// on the file's name, too.
func (r Row) of(e Entry) Row {
	r.File, r.Bytes, r.SHA256 = e.Path, e.Size, e.SHA256
	if r.Status == Ignored {
		r.Status = record.Failed
	}
	if r.Status == record.Failed && passedOver(e.Path, r.Code) {
		r.Status = Ignored
	}
	return r
}

// once is a word that many rows say, held in memory once.
func once(word string) string {
	if word == "" {
		return ""
	}
	return unique.Make(word).Value()
}

// passedOver says whether a file that is no photo never promised to be one.
func passedOver(file, code string) bool {
	switch code {
	case "not_a_photo", "empty_file", "too_large", "unsupported_format":
		return !pictureEndings[strings.ToLower(path.Ext(file))]
	}
	return false
}

// troubleRow is the row of a file whose content was not read.
func troubleRow(e Entry) Row {
	r := Row{File: e.Path, Status: record.Failed, Bytes: e.Size, Code: e.Trouble.Code, Reason: e.Trouble.Message, Hint: e.Trouble.Hint,
		Record: recordPath(recordName(e.Path, pathHash(e.Path)))}
	if e.Trouble.Passed || passedOver(e.Path, e.Trouble.Code) {
		r.Status = Ignored
	}
	return r
}
