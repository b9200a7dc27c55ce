package report

import (
	"fmt"
	"io"
	"slices"
	"strconv"
	"strings"
	"unicode/utf8"

	"sitspan/cmd/sitspan/internal/record"
	"sitspan/cmd/sitspan/internal/sentence"
	"sitspan/cmd/sitspan/internal/words"
)

// explanation is the text of explain as it grows: sections of rows, indented.
type explanation struct {
	reading
	b    strings.Builder
	lang words.Lang
}

// explainWidth is the longest line of the text, in letters.
const explainWidth = 100

// Explain writes the whole chain from pixels to width for a colleague: picture,
// marks, camera, centres, parallax, budget, allowance, and the probability of
// each stocked width. What a record states in words (a budget's basis, a
// warning) is in the language that it was recorded in. The rider's alias is not
// in it.
func Explain(w io.Writer, rec record.Record, lang words.Lang) error {
	r, err := readingOf(rec)
	if err != nil {
		return err
	}
	x := &explanation{reading: r, lang: lang}
	x.b.WriteString(x.lang.Text("explain.title") + "\n")
	x.picture()
	x.scale()
	x.troubles()
	if x.m.Spacing != nil {
		x.centres()
		x.parallax()
		x.relief()
		x.parts(slices.Concat(x.m.Photos, x.m.Sittings))
		x.budget()
		x.widths()
	} else {
		x.section(x.lang.Text("explain.spacing"))
		x.line(x.lang.Text("explain.no_spacing"))
	}
	_, err = io.WriteString(w, x.b.String())
	return err
}

// section begins a part of the text.
func (x *explanation) section(title string) { x.b.WriteString("\n" + title + "\n") }

// line is a paragraph, indented and wrapped.
func (x *explanation) line(text string) { x.wrapped("  ", text) }

// item is one of a list.
func (x *explanation) item(text string) { x.wrapped("  - ", text) }

// labelColumn is where a row's text begins.
const labelColumn = 32

// row is a label and a text; an empty text leaves the row out.
func (x *explanation) row(label, text string) {
	if text == "" {
		return
	}
	pad := max(1, labelColumn-2-utf8.RuneCountInString(label))
	x.wrapped("  "+label+strings.Repeat(" ", pad), text)
}

// wrapped sets a text behind a first indent, further lines below the text.
func (x *explanation) wrapped(first, text string) {
	indent := strings.Repeat(" ", utf8.RuneCountInString(first))
	line, used := first, utf8.RuneCountInString(first)
	empty := true
	for _, word := range strings.Fields(text) {
		n := utf8.RuneCountInString(word)
		if !empty && used+1+n > explainWidth {
			x.b.WriteString(line + "\n")
			line, used, empty = indent, utf8.RuneCountInString(indent), true
		}
		if !empty {
			line, used = line+" ", used+1
		}
		line, used, empty = line+word, used+n, false
	}
	x.b.WriteString(strings.TrimRight(line, " ") + "\n")
}

// num and mm write numbers in the text's language.
func (x *explanation) num(v float64, n int) string { return x.lang.Number(v, n) }
func (x *explanation) mm(v float64, n int) string  { return x.num(v, n) + " mm" }

// picture is what was measured, by what, and under which settings.
func (x *explanation) picture() {
	x.section(x.lang.Text("explain.picture"))
	for _, p := range x.rec.Photos {
		x.row(x.lang.Text("explain.name"), p.Name)
		x.row(x.lang.Text("explain.size"), fmt.Sprintf("%d x %d px", p.Width, p.Height))
		x.row(x.lang.Text("explain.hash"), p.SHA256)
		switch {
		case p.Focal35 > 0:
			x.row(x.lang.Text("explain.focal"), x.lang.Plain(p.Focal35)+" mm (35 mm)")
		case !x.scanned():
			x.row(x.lang.Text("explain.focal"), x.lang.Text("explain.no_focal"))
		}
	}
	x.row(x.lang.Text("explain.made"), x.lang.Date(x.rec.MadeAt)+", "+x.rec.Tool+" "+x.rec.Version)
	x.row(x.lang.Text("explain.net"), x.rec.Model)
	x.row(x.lang.Text("explain.settings"), x.settings())
	if x.reviewer != "" {
		text := x.lang.Date(x.reviewedAt) + ", " + x.reviewer
		if note := x.rec.Reviews[len(x.rec.Reviews)-1].Note; note != "" {
			text = x.lang.Labelled(text, note)
		}
		x.row(x.lang.Text("explain.review"), text)
	}
}

// settings are the choices that the measurement was made under, in a line.
func (x *explanation) settings() string {
	s := x.rec.Settings
	var said []string
	for _, word := range []string{s.Medium, s.Pad, s.Stock, s.Shop} {
		if word != "" && !slices.Contains(said, word) {
			said = append(said, word)
		}
	}
	if len(s.DepthMM) > 0 {
		said = append(said, fmt.Sprintf("%s %s mm (u = %s mm)", x.lang.Text("explain.depth"), x.list(s.DepthMM, 1),
			x.num(s.DepthU, 1)))
	}
	if len(s.PrintScale) > 0 {
		said = append(said, fmt.Sprintf("%s %s (u = %s)", x.lang.Text("explain.print_scale"),
			x.list(s.PrintScale, 4), x.list(s.PrintScaleU, 4)))
	}
	return x.lang.Joined(said...)
}

func (x *explanation) list(vs []float64, n int) string {
	texts := make([]string, len(vs))
	for i, v := range vs {
		texts[i] = x.num(v, n)
	}
	return strings.Join(texts, " / ")
}

// scale is what ties pixels to mm, and where the camera was.
func (x *explanation) scale() {
	x.section(x.lang.Text("explain.marks"))
	x.row(x.lang.Text("explain.scale"), wordFor(x.lang, "explain.scale_source.", x.m.ScaleSource))
	if p := x.m.Print; p != nil {
		x.row(x.lang.Text("terminal.print"), printUsed(x.lang, *p))
	}
	if !x.scanned() {
		x.row(x.lang.Text("explain.marks_found"), strconv.Itoa(x.m.Marks))
	}
	if g := x.m.GroundSample; g != nil {
		x.row(x.lang.Text("explain.sample"), x.num(*g, 4)+" mm/px")
	}
	if x.m.CameraHeight == nil && x.m.TiltDeg == nil {
		return
	}
	x.section(x.lang.Text("explain.camera"))
	if h := x.m.CameraHeight; h != nil {
		x.row(x.lang.Text("explain.height"), x.mm(*h, 0))
	}
	if t := x.m.TiltDeg; t != nil {
		x.row(x.lang.Text("explain.tilt"), x.lang.Degrees(*t))
	}
}

// troubles are the reasons for a review or refusal, and the warnings.
func (x *explanation) troubles() {
	if len(x.m.Reasons) > 0 {
		x.section(x.lang.Text("explain.reasons") + " (" + wordFor(x.lang, "status.", x.m.Status) + ")")
		for _, r := range x.m.Reasons {
			said := sentence.OfReason(x.lang, r)
			x.item(together(x.lang, said.Seen, said.Do))
		}
	}
	if len(x.m.Warnings) > 0 {
		x.section(x.lang.Text("explain.warnings"))
		for _, w := range x.m.Warnings {
			said := sentence.OfWarning(x.lang, w)
			x.item(together(x.lang, said.Seen, said.Do))
		}
	}
}

// centres are both deepest points, in the picture and in the frame's axes.
func (x *explanation) centres() {
	if x.m.LeftMM == nil || x.m.RightMM == nil {
		return
	}
	x.section(x.lang.Text("explain.centres"))
	side := func(name string, px, mm *[2]float64) {
		var parts []string
		if px != nil {
			parts = append(parts, fmt.Sprintf("(%s, %s) px", x.num(px[0], 1), x.num(px[1], 1)))
		}
		parts = append(parts, fmt.Sprintf("(%s, %s) mm", x.num(mm[0], 2), x.num(mm[1], 2)))
		x.row(name, strings.Join(parts, "  ->  "))
	}
	side(x.lang.Text("side.left"), x.m.LeftPx, x.m.LeftMM)
	side(x.lang.Text("side.right"), x.m.RightPx, x.m.RightMM)
}

// parallax is the spacing on the frame's plane, what each side's depth adds to
// it along the line of centres, and the corrected spacing; equation (1).
func (x *explanation) parallax() {
	x.section(x.lang.Text("explain.parallax"))
	left, right, ok := x.shifts()
	if !ok || left == 0 && right == 0 {
		x.line(x.lang.Text("explain.no_parallax"))
		return
	}
	corrected := *x.m.Spacing
	if part := x.firstSitting(); part != nil {
		x.line(x.lang.Say("explain.first_sitting", words.Values{"name": part.Photo}))
		corrected = *part.Spacing
	}
	if u := x.m.UncorrectedMM; u != nil {
		x.row(x.lang.Text("explain.on_plane"), x.mm(*u, 2))
	}
	side := func(name string, by float64, d *record.Dent) {
		x.row(name, fmt.Sprintf("%s mm %s; %s %s (u = %s), %s", x.lang.Signed(by, 2),
			x.lang.Text("explain.outward"),
			x.lang.Text("explain.depth"), x.mm(d.Depth, 1), x.mm(d.DepthU, 1), sentence.DepthBasis(x.lang, *d)))
	}
	side(x.lang.Text("side.left"), left, x.m.Left)
	side(x.lang.Text("side.right"), right, x.m.Right)
	x.row(x.lang.Text("explain.corrected"), x.mm(corrected, 2))
}

// firstSitting is the one whose centres and correction the record holds; nil where there are no sittings.
func (x *explanation) firstSitting() *record.Part {
	for i, p := range x.m.Sittings {
		if p.Used && p.Spacing != nil {
			return &x.m.Sittings[i]
		}
	}
	return nil
}

// parts are the photos of a joint measurement, or the sittings.
func (x *explanation) parts(parts []record.Part) {
	if len(parts) == 0 {
		return
	}
	x.section(x.lang.Text("explain.parts"))
	for i, p := range parts {
		text := partGives(x.lang, p, 2)
		if p.Difference != nil {
			text += ", " + x.lang.Signed(printedDifference(p, x.m.Spacing, 2), 2) + " mm"
		}
		if !p.Used {
			text += ", " + x.lang.Text("explain.not_used")
			if why := sentence.Why(x.lang, p); why != "" {
				text = x.lang.Labelled(text, why)
			}
		}
		x.row(PartName(parts, i), text)
	}
	if x.firstSitting() != nil {
		x.row(x.lang.Text("explain.mean"), x.mm(*x.m.Spacing, 2))
	}
}
