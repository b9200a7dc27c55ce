package archive

import (
	"math"
	"path"
	"strings"

	"sitspan/cmd/sitspan/internal/fingerprint"
	"sitspan/cmd/sitspan/internal/record"
	"sitspan/cmd/sitspan/internal/words"
	"sitspan/imprint/codes"
)

// finding is what is known of a content that was measured, while its row is made.
type finding struct {
	done     *Done
	status   string
	spacing  *float64
	u        *float64
	scale    string
	medium   string
	reviewer string
	reason   record.Reason
	warnings string
	shared   []SharedLine
	look     *look // nil where no two centres were found
}

// SharedLine is a line of a budget that all pictures of its kind have in common.
type SharedLine struct {
	Code string  // of the influence
	MM   float64 // contribution to the spacing, standard uncertainty
}

// look is what tells a picture from others: its fingerprint, its shape, and
// where the centres lie, as shares of its width and height.
type look struct {
	N           int // of the content's first file
	Print       fingerprint.Print
	Width       float64 // px
	Height      float64 // px
	Left, Right [2]float64
	MMPerWidth  float64 // mm across the whole picture

	Span     float64 // distance of the centres as a share of the diagonal
	Off      float64 // distance of the middle between them from the picture's, likewise
	Diagonal float64 // mm
}

// loadFinding reads the record of a content.
func loadFinding(r Results, c content) (finding, error) {
	if c.Done == nil {
		return finding{}, words.Fault("error.audit.unmeasured", words.Values{"file": c.Entry.Path})
	}
	rec, err := record.Load(r.Path(RecordPath(c.Done.Record)))
	if err != nil {
		return finding{}, err
	}
	m, reviewer := rec.Current()
	f := finding{
		done:     c.Done,
		status:   m.Status,
		spacing:  m.Spacing,
		u:        m.U,
		scale:    m.ScaleSource,
		medium:   m.Medium,
		reviewer: reviewer,
	}
	if len(m.Reasons) > 0 {
		f.reason = m.Reasons[0]
	}
	var warned []string
	for _, w := range m.Warnings {
		warned = append(warned, w.Code)
	}
	f.warnings = strings.Join(warned, " ")
	for _, l := range m.Budget {
		if codes.SharedBy(l.Code, codes.ByArchive) {
			f.shared = append(f.shared, SharedLine{l.Code, l.U})
		}
	}
	f.look = lookOf(rec, m, c)
	return f, nil
}

// lookOf is nil where there is nothing to compare by.
func lookOf(rec record.Record, m record.Measurement, c content) *look {
	p, err := fingerprint.Parse(c.Done.Fingerprint)
	if err != nil || m.LeftPx == nil || m.RightPx == nil || m.Spacing == nil || len(rec.Photos) != 1 {
		return nil
	}
	l := &look{
		N:      c.First,
		Print:  p,
		Width:  float64(rec.Photos[0].Width),
		Height: float64(rec.Photos[0].Height),
	}
	if l.Width < 1 || l.Height < 1 {
		return nil
	}
	l.Left, l.Right = l.share(*m.LeftPx), l.share(*m.RightPx)
	across := math.Hypot(m.RightPx[0]-m.LeftPx[0], m.RightPx[1]-m.LeftPx[1])
	if across == 0 {
		return nil
	}
	l.MMPerWidth = *m.Spacing / across * l.Width
	l.measure()
	return l
}

// share is a pixel's place in shares of the picture; pixels are named by their
// centres.
func (l *look) share(px [2]float64) [2]float64 {
	return [2]float64{(px[0] + 0.5) / l.Width, (px[1] + 0.5) / l.Height}
}

// file is a file as its content was found. What became of it depends on the
// file's name, too.
func (f finding) file(e Entry) File {
	r := File{
		Path: e.Path, Status: f.status, Bytes: e.Size, SHA256: e.SHA256,
		Record: RecordPath(f.done.Record), Reviewer: f.reviewer,
		Spacing: f.spacing, U: f.u, Scale: f.scale, Medium: f.medium, Warnings: f.warnings,
		Code: f.reason.Code, Reason: f.reason.Message, Hint: f.reason.Hint,
		Form: f.reason.Form, Params: f.reason.Params,
	}
	r.Undrawn = f.done.Undrawn
	if f.done.Overlay {
		r.Overlay = OverlayPath(f.done.Record)
	}
	if r.Status == record.Failed && passedOver(e.Path, r.Code) {
		r.Status = Ignored
	}
	return r
}

// passedOver says whether a file that is no photo never promised to be one.
func passedOver(file, code string) bool {
	switch code {
	case "not_a_photo", "empty_file", "too_large", "unsupported_format":
		return !pictureEndings[strings.ToLower(path.Ext(file))]
	}
	return false
}

// troubleFile is a file whose content was not read.
func troubleFile(e Entry) File {
	r := File{
		Path:   e.Path,
		Status: record.Failed,
		Bytes:  e.Size,
		Code:   e.Trouble.Code,
		Reason: e.Trouble.Message,
		Hint:   e.Trouble.Hint,
		Form:   e.Trouble.Form,
		Params: e.Trouble.Params,
		Record: RecordPath(RecordName(e.Path, pathHash(e.Path))),
	}
	if e.Trouble.Passed || passedOver(e.Path, e.Trouble.Code) {
		r.Status = Ignored
	}
	return r
}
