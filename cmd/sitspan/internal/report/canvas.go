package report

import (
	"math"
	"strings"

	"codeberg.org/go-pdf/fpdf"
)

// mmPerPoint turns a font's size in points into mm.
const mmPerPoint = 25.4 / 72

// A text's line takes leading times its size; its baseline lies ascent times
// its size below the line's top (Liberation Sans: ascender 1854 of 2048 units).
const (
	leading = 1.28
	ascent  = 1854.0 / 2048
)

// ink is a colour, red, green, blue from 0 to 255.
type ink struct{ r, g, b int }

// The sheet's few inks. All stay apart on a grey printer.
var (
	black   = ink{26, 30, 34}
	grey    = ink{104, 110, 116}
	pale    = ink{204, 208, 211}
	wash    = ink{240, 243, 244}
	white   = ink{255, 255, 255}
	accent  = ink{9, 84, 94}
	tint    = ink{186, 214, 216}
	warning = ink{140, 46, 22}
)

// style is how a text is set.
type style struct {
	pt   float64
	bold bool
	ink  ink
}

// height is a line's height in mm.
func (st style) height() float64 { return st.pt * mmPerPoint * leading }

// width is a text's length in mm.
func (st style) width(text string) float64 {
	return faceFor(st.bold).width(text) * st.pt * mmPerPoint
}

// canvas is a page to draw on. With its pen lifted (doc is nil) it only
// measures, so that one layout serves for both. Lengths are mm from the page's
// top left.
type canvas struct{ doc *fpdf.Fpdf }

// put sets a text with its baseline's beginning at x, y.
func (c canvas) put(x, y float64, text string, st style) {
	if c.doc == nil || text == "" {
		return
	}
	weight := ""
	if st.bold {
		weight = "B"
	}
	c.doc.SetFont("sans", weight, st.pt)
	c.doc.SetTextColor(st.ink.r, st.ink.g, st.ink.b)
	c.doc.Text(x, y, text)
}

// putRight sets a text that ends at x.
func (c canvas) putRight(x, y float64, text string, st style) {
	c.put(x-st.width(text), y, text, st)
}

// putMiddle sets a text whose middle is at x.
func (c canvas) putMiddle(x, y float64, text string, st style) {
	c.put(x-st.width(text)/2, y, text, st)
}

// run is a piece of a paragraph in one weight.
type run struct {
	text string
	bold bool
}

// word is a run's word as it stands in a line.
type word struct {
	text  string
	bold  bool
	width float64
}

// paragraph sets a text in lines of at most w from the top at y, and returns
// the paragraph's bottom.
func (c canvas) paragraph(x, y, w float64, st style, runs ...run) float64 {
	for _, line := range st.lines(w, runs) {
		at := x
		for _, wd := range line {
			own := st
			own.bold = wd.bold
			c.put(at, y+ascent*st.pt*mmPerPoint, wd.text, own)
			at += wd.width + own.width(" ")
		}
		y += st.height()
	}
	return y
}

// text is a paragraph in the style's own weight.
func (c canvas) text(x, y, w float64, st style, text string) float64 {
	return c.paragraph(x, y, w, st, run{text, st.bold})
}

// lines breaks runs into lines of at most w mm.
func (st style) lines(w float64, runs []run) [][]word {
	var lines [][]word
	var line []word
	used := 0.0
	for _, wd := range st.words(w, runs) {
		gap := st.width(" ")
		if len(line) > 0 && used+gap+wd.width > w {
			lines, line, used = append(lines, line), nil, 0
		}
		if len(line) > 0 {
			used += gap
		}
		line, used = append(line, wd), used+wd.width
	}
	if len(line) > 0 {
		lines = append(lines, line)
	}
	return lines
}

// joined is a line's text.
func joined(line []word) string {
	texts := make([]string, len(line))
	for i, wd := range line {
		texts[i] = wd.text
	}
	return strings.Join(texts, " ")
}

// words takes runs apart at white space, and a word that no line could hold at
// its letters.
func (st style) words(w float64, runs []run) []word {
	var words []word
	for _, r := range runs {
		own := st
		own.bold = r.bold
		for _, text := range unbroken(strings.Fields(composed(r.text))) {
			for own.width(text) > w {
				head := own.head(text, w)
				words = append(words, word{head, r.bold, own.width(head)})
				text = text[len(head):]
			}
			words = append(words, word{text, r.bold, own.width(text)})
		}
	}
	return words
}

// unbroken keeps a number and its unit, a sign and its number, and a stop that
// stands apart from its word, as in French, in one line.
func unbroken(fields []string) []string {
	var out []string
	for _, f := range fields {
		if n := len(out); n > 0 && (isUnit(f) && endsInDigit(out[n-1]) || isStop(f) || out[n-1] == "±" ||
			strings.HasSuffix(out[n-1], "«")) {
			out[n-1] += " " + f
			continue
		}
		out = append(out, f)
	}
	return out
}

// isUnit takes a unit with a closing sign behind it, too.
func isUnit(s string) bool {
	s = strings.TrimRight(s, ".,;:)")
	return s == "%" || s == "mm" || s == "kg"
}

// isStop takes a French closing quote, with a stop behind it, too.
func isStop(s string) bool { return s != "" && strings.Trim(s, ":;?!».,)") == "" }

func endsInDigit(s string) bool {
	return s != "" && s[len(s)-1] >= '0' && s[len(s)-1] <= '9'
}

// head is the longest beginning of a text that is no longer than w, and at
// least its first letter.
func (st style) head(text string, w float64) string {
	end := 0
	for i, r := range text {
		next := i + len(string(r))
		if end > 0 && st.width(text[:next]) > w {
			break
		}
		end = next
	}
	return text[:end]
}

// shrunk makes a text fit into a line of w mm: first smaller, down to least
// times its size, then cut with an ellipsis.
func (st style) shrunk(text string, w, least float64) (style, string) {
	text = composed(oneLine(text))
	full := st.width(text)
	if full <= w {
		return st, text
	}
	st.pt *= math.Max(least, w/full)
	if st.width(text) <= w*(1+1e-9) {
		return st, text
	}
	dots := st.width("…")
	return st, strings.TrimRight(st.head(text, w-dots), " ") + "…"
}

// line draws a straight line.
func (c canvas) line(x1, y1, x2, y2, width float64, in ink) {
	if c.doc == nil {
		return
	}
	c.doc.SetDrawColor(in.r, in.g, in.b)
	c.doc.SetLineWidth(width)
	c.doc.Line(x1, y1, x2, y2)
}

// box fills a rectangle.
func (c canvas) box(x, y, w, h float64, in ink) {
	if c.doc == nil {
		return
	}
	c.doc.SetFillColor(in.r, in.g, in.b)
	c.doc.Rect(x, y, w, h, "F")
}

// frame draws a rectangle's outline.
func (c canvas) frame(x, y, w, h, width float64, in ink) {
	if c.doc == nil {
		return
	}
	c.doc.SetDrawColor(in.r, in.g, in.b)
	c.doc.SetLineWidth(width)
	c.doc.Rect(x, y, w, h, "D")
}

// dot fills a circle.
func (c canvas) dot(x, y, r float64, in ink) {
	if c.doc == nil {
		return
	}
	c.doc.SetFillColor(in.r, in.g, in.b)
	c.doc.Circle(x, y, r, "F")
}

// ring draws a circle with a white middle.
func (c canvas) ring(x, y, r, width float64, in ink) {
	if c.doc == nil {
		return
	}
	c.doc.SetFillColor(white.r, white.g, white.b)
	c.doc.SetDrawColor(in.r, in.g, in.b)
	c.doc.SetLineWidth(width)
	c.doc.Circle(x, y, r, "FD")
}

// ellipse draws an ellipse filled, its long axis turned by deg, clockwise on
// the page.
func (c canvas) ellipse(x, y, rx, ry, deg, width float64, in, fill ink) {
	if c.doc == nil {
		return
	}
	c.doc.SetDrawColor(in.r, in.g, in.b)
	c.doc.SetFillColor(fill.r, fill.g, fill.b)
	c.doc.SetLineWidth(width)
	c.doc.Ellipse(x, y, rx, ry, -deg, "FD") // fpdf turns counter-clockwise
}

// checkbox draws an empty box to tick, on a line of the style that begins at y.
func (c canvas) checkbox(x, y float64, st style) {
	side := 0.72 * st.pt * mmPerPoint
	c.frame(x, y+ascent*st.pt*mmPerPoint-side, side, side, 0.22, grey)
}
