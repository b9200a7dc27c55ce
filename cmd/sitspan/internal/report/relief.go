package report

import (
	"math"
	"strconv"
	"strings"

	"sitspan/cmd/sitspan/internal/record"
	"sitspan/cmd/sitspan/internal/words"
	"sitspan/imprint/contour"
)

// measuredRelief is a record's relief with both deepest points.
type measuredRelief struct {
	*record.Relief
	grid        contour.Grid
	left, right contour.Point // mm, frame axes
	profile     contour.Profile
}

// sectionStep is the distance in mm of a section's samples.
const sectionStep = 0.5

// relief is what a record keeps of the surface; ok is false where it keeps none,
// or there are no two points on it.
func (r reading) relief() (s measuredRelief, ok bool) {
	s.Relief = r.rec.Relief()
	if s.Relief == nil || r.m.Spacing == nil || r.m.LeftMM == nil || r.m.RightMM == nil {
		return s, false
	}
	s.grid = contour.Grid{Step: s.StepMM, Columns: s.Columns, Rows: s.Rows, Z: s.Depths()}
	s.left = contour.Point{X: r.m.LeftMM[0], Y: r.m.LeftMM[1]}
	s.right = contour.Point{X: r.m.RightMM[0], Y: r.m.RightMM[1]}
	s.profile, ok = contour.ProfileThrough(s.grid, s.Uncertainties(), s.left, s.right, sectionStep)
	if ok {
		top, bottom := s.profile.Range()
		ok = bottom > top
	}
	return s, ok
}

// relief is what the relief rests on, what checks it, and its section.
func (x *explanation) relief() {
	s, ok := x.reading.relief()
	if !ok {
		return
	}
	x.section(x.lang.Text("relief.title"))
	if s.Dots > 0 {
		what := "relief.dots"
		switch {
		case s.By == record.ByGrain:
			what = "relief.grain"
		case s.Between > 0:
			what = "relief.dots_between"
		}
		x.row(x.lang.Text("relief.matched"), x.lang.Say(what, words.Values{
			"n": s.Dots - s.Between, "between": s.Between, "photos": numbers(s.PhotosUsed), "angle": s.LinesOfSight,
		}))
	}
	x.bottom("side.left", s.grid.At(s.left), s.SurfaceMM, s.LeftRadius)
	x.bottom("side.right", s.grid.At(s.right), s.SurfaceMM, s.RightRadius)
	if s.Length > 0 {
		x.row(x.lang.Text("relief.pad"), x.lang.Say("relief.pad.text", words.Values{
			"roughness": s.Roughness, "length": s.Length,
		}))
	}
	x.checks(s.Relief)
	x.section(x.lang.Text("relief.section"))
	drawn := newTextSection(s.profile)
	for _, line := range drawn.lines(*x.m.Spacing, x.lang) {
		x.b.WriteString("  " + line + "\n")
	}
	across, down := drawn.cell()
	x.line(x.lang.Say("relief.cell", words.Values{"across": across, "down": down}))
}

// bottom is a deepest point's depth, and how sharp it is.
func (x *explanation) bottom(side string, z float64, surface, radius *float64) {
	parts := []string{x.lang.Say("relief.below_frame", words.Values{"depth": z})}
	if surface != nil {
		parts = append(parts, x.lang.Say("relief.below_pad", words.Values{"depth": z - *surface}))
	}
	if radius != nil {
		parts = append(parts, x.lang.Say("relief.radius", words.Values{"radius": *radius}))
	}
	x.row(x.lang.Text(side), strings.Join(parts, ", "))
}

// checks are the residuals of what took no part, and the net's own reading.
func (x *explanation) checks(r *record.Relief) {
	if rms := r.WithheldMarksRMS; rms != nil && len(r.WithheldMarks) > 0 {
		x.row(x.lang.Say("relief.marks", words.Values{"marks": numbers(r.WithheldMarks)}),
			x.lang.Say("relief.marks.text", words.Values{"rms": *rms}))
	}
	if rms := r.WithheldDotsRMS; rms != nil && r.WithheldDots > 0 {
		text := x.lang.Say("relief.withheld.text", words.Values{"rms": *rms})
		if ratio := r.WithheldDotsRatio; ratio != nil {
			text = x.lang.Say("relief.withheld.ratio", words.Values{"rms": *rms, "ratio": *ratio})
		}
		x.row(x.lang.Say("relief.withheld", words.Values{"n": r.WithheldDots}), text)
	}
	if r.NetSpacing == nil || r.NetU == nil {
		return
	}
	text := x.lang.Say("relief.net.text", words.Values{"spacing": *r.NetSpacing, "u": *r.NetU})
	if e := r.NormalisedError; e != nil {
		verdict := "relief.agree"
		if *e > 1 {
			verdict = "relief.disagree"
		}
		text = x.lang.Joined(text, x.lang.Say(verdict, words.Values{"e": *e}))
	}
	x.row(x.lang.Text("relief.net"), text)
}

// numbers are small whole numbers in a row.
func numbers(list []int) string {
	texts := make([]string, len(list))
	for i, n := range list {
		texts[i] = strconv.Itoa(n)
	}
	return strings.Join(texts, ", ")
}

// textSection is a section drawn with letters: what is below the surface is
// filled by eighths of a letter's height.
type textSection struct {
	contour.Profile
	columns, rows int
	top, down     float64 // mm: the first row's upper edge, and a row's height
}

const (
	textColumns = 90
	textRows    = 16
)

// newTextSection chooses rows of 1, 2, 5, 10 or more mm so that they are few.
func newTextSection(p contour.Profile) textSection {
	s := textSection{Profile: p, columns: textColumns}
	top, bottom := p.Range()
	for _, s.down = range []float64{1, 2, 5, 10, 20, 50} {
		s.top = s.down * math.Floor(top/s.down)
		s.rows = 1 + int(math.Ceil((bottom-s.top)/s.down))
		if s.rows <= textRows {
			break
		}
	}
	return s
}

// cell is how many mm a letter is across and down.
func (s textSection) cell() (across, down float64) {
	return s.Length() / float64(s.columns), s.down
}

// lines are the section, a depth before every fifth row, and a last line that
// points at both deepest points, with the distance in mm between them.
func (s textSection) lines(spacing float64, lang words.Lang) []string {
	var lines []string
	for j := range s.rows {
		upper := s.top + float64(j)*s.down
		label := ""
		if j%5 == 0 {
			label = lang.Plain(upper)
		}
		var row strings.Builder
		for i := range s.columns {
			row.WriteRune(s.letter(i, upper))
		}
		lines = append(lines, strings.TrimRight(padLeft(label, 4)+" "+row.String(), " "))
	}
	return append(lines, s.points(spacing, lang))
}

// eighths are a letter filled from below by 0 to 8 eighths.
var eighths = []rune(" ▁▂▃▄▅▆▇█")

// letter is how far the surface fills a letter whose upper edge lies at a depth.
func (s textSection) letter(column int, upper float64) rune {
	z := s.DepthAt((float64(column) + 0.5) / float64(s.columns) * s.Length())
	if math.IsNaN(z) {
		return '?'
	}
	filled := (upper + s.down - z) / s.down
	return eighths[int(math.Round(8*math.Max(0, math.Min(1, filled))))]
}

// points is the line under the section: an arrow under each deepest point, and
// between them their distance.
func (s textSection) points(spacing float64, lang words.Lang) string {
	column := func(along float64) int {
		return max(0, min(s.columns-1, int(along/s.Length()*float64(s.columns))))
	}
	a, b := column(s.A), column(s.B)
	text := " " + lang.Number(spacing, 1) + " mm "
	room := b - a - 1 - len([]rune(text))
	if room < 0 {
		text, room = "", max(0, b-a-1)
	}
	rule := strings.Repeat("─", room/2) + text + strings.Repeat("─", room-room/2)
	return strings.Repeat(" ", 5+a) + "▲" + rule + "▲"
}
