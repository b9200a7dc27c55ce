package report

import (
	"slices"
	"strings"

	"sitspan/cmd/sitspan/internal/words"
	"sitspan/fit"
)

// physician is the line that every sheet carries: a rider who has no complaint
// today takes the page home too.
var physician = fit.Note{Code: "caution.physician"}

// guides are the complaints' guides; all bikes have the same.
func (s *sheet) guides() []fit.ComplaintGuide {
	if len(s.advice) == 0 {
		return nil
	}
	return s.advice[0].Guides
}

// block sets something at x, y in a column of width w and returns its bottom.
type columnBlock func(x, y, w float64) float64

// adviceColumns sets what to check and what was complained of in two columns
// of nearly the same height.
func (s *sheet) adviceColumns(y float64) float64 {
	s.line(s.left(), y, s.right(), y, 0.25, pale)
	title := s.lang.Text("sheet.set_up")
	if len(s.guides()) > 0 {
		title = s.lang.Text("sheet.complaints")
	}
	y = s.text(s.left(), y+s.gap(2.2), s.inner(), s.head(), title) + s.gap(0.6)
	const gutter = 8.0
	w := (s.inner() - gutter) / 2
	blocks := s.adviceBlocks()
	split := s.bestSplit(blocks, w)
	bottom := y
	for i, column := range [][]columnBlock{blocks[:split], blocks[split:]} {
		at := y
		for _, b := range column {
			at = b(s.left()+float64(i)*(w+gutter), at, w)
		}
		bottom = max(bottom, at)
	}
	return bottom
}

// bestSplit is where to break the blocks so that the higher column is lowest.
func (s *sheet) bestSplit(blocks []columnBlock, w float64) int {
	lifted := s.canvas
	s.canvas = canvas{}
	defer func() { s.canvas = lifted }()
	heights, total := make([]float64, len(blocks)), 0.0
	for i, b := range blocks {
		heights[i] = b(0, 0, w)
		total += heights[i]
	}
	best, split, left := total, len(blocks), 0.0
	for i, h := range heights {
		left += h
		if higher := max(left, total-left); higher < best {
			best, split = higher, i+1
		}
	}
	return split
}

// adviceBlocks are the set-up checks, or for each complaint what to look for,
// what to check and when to stop.
func (s *sheet) adviceBlocks() []columnBlock {
	guides := s.guides()
	if len(guides) == 0 {
		var blocks []columnBlock
		for _, key := range []string{"sheet.set_up.1", "sheet.set_up.2", "sheet.set_up.3", "sheet.set_up.4"} {
			blocks = append(blocks, s.check(run{s.lang.Text(key), false}))
		}
		return append(blocks, s.plainBlock(s.lang.Text("sheet.set_up_basis"), s.quiet()))
	}
	var blocks []columnBlock
	var cut []string
	for i, g := range guides {
		full := i < s.full
		blocks = append(blocks, s.guide(g, full)...)
		if !full {
			cut = append(cut, s.lang.Term(string(g.Complaint)))
		}
	}
	if len(cut) > 0 {
		blocks = append(blocks, s.plainBlock(s.lang.Say("sheet.left_out",
			words.Values{"names": strings.Join(cut, ", ")}), s.quiet()))
	}
	return blocks
}

// guide is one complaint, in full or only with when to stop.
func (s *sheet) guide(g fit.ComplaintGuide, full bool) []columnBlock {
	name := capital(s.lang.Term(string(g.Complaint)))
	var parts []columnBlock
	if full {
		for _, n := range g.Saddle {
			parts = append(parts, s.labelled(s.lang.Text("sheet.in_saddle"), s.lang.Note(n.Code, n.Params), s.small()))
		}
		for _, c := range g.SetUp {
			parts = append(parts, s.check(run{s.lang.Head(capital(s.lang.Term(string(c.Part)))), true},
				run{s.lang.Note(c.Note.Code, c.Note.Params), false}))
		}
	}
	for _, n := range g.Stop {
		if n.Code != physician.Code { // it stands at the foot of every sheet
			st := s.small()
			st.ink = warning
			parts = append(parts, s.plainBlock(s.lang.Note(n.Code, n.Params), st))
		}
	}
	// the heading stays with what follows it
	first := parts[0]
	heading := s.heading(name)
	parts[0] = func(x, y, w float64) float64 { return first(x, heading(x, y, w), w) }
	last := parts[len(parts)-1]
	parts[len(parts)-1] = func(x, y, w float64) float64 { return last(x, y, w) + s.gap(2) }
	return parts
}

func (s *sheet) heading(text string) columnBlock {
	return func(x, y, w float64) float64 {
		st := style{9.4 * s.scale, true, accent}
		return s.text(x, y, w, st, text) + s.gap(0.7)
	}
}

func (s *sheet) plainBlock(text string, st style) columnBlock {
	return func(x, y, w float64) float64 { return s.text(x, y, w, st, text) + s.gap(0.8) }
}

func (s *sheet) labelled(label, text string, st style) columnBlock {
	return func(x, y, w float64) float64 {
		return s.paragraph(x, y, w, st, run{s.lang.Head(label), true}, run{text, false}) + s.gap(0.8)
	}
}

// check is a line with a box to tick.
func (s *sheet) check(runs ...run) columnBlock {
	return func(x, y, w float64) float64 {
		st := s.small()
		s.checkbox(x, y, st)
		indent := s.gap(4)
		return s.paragraph(x+indent, y, w-indent, st, runs...) + s.gap(0.8)
	}
}

// notes are lines for the fitter's hand, where the page has room for three.
func (s *sheet) notes(y, bottom float64) {
	const apart = 8.0
	if bottom-y < 3*apart+s.label().height() {
		return
	}
	s.line(s.left(), y, s.right(), y, 0.25, pale)
	y = s.text(s.left(), y+s.gap(2.6), s.inner(), s.label(), s.lang.Text("sheet.notes"))
	for at := y + apart; at <= bottom; at += apart {
		s.line(s.left(), at, s.right(), at, 0.15, pale)
	}
}

// cautionNotes are all bikes' cautions, each once, the physician's line first.
func (s *sheet) cautionNotes() []string {
	texts := []string{s.lang.Note(physician.Code, physician.Params)}
	for _, a := range s.advice {
		for _, n := range a.Cautions {
			if text := s.lang.Note(n.Code, n.Params); !slices.Contains(texts, text) {
				texts = append(texts, text)
			}
		}
	}
	if len(s.advice) == 0 {
		texts = append(texts, s.lang.Note("caution.advice_only", nil))
		return texts
	}
	return append(texts, s.lang.Text("sheet.allowance_basis"))
}

// cautionHeight is what the cautions and the footer take at the page's bottom.
func (s *sheet) cautionHeight() float64 {
	lifted := s.canvas
	s.canvas = canvas{}
	defer func() { s.canvas = lifted }()
	return s.cautions(0)
}

// signature is who looked, and when to look again; what is not known is a line for the hand.
func (s *sheet) signature(x, y, w float64) float64 {
	st := s.small()
	base := y + ascent*st.pt*mmPerPoint
	next := ""
	if !s.next.IsZero() {
		next = s.lang.Date(s.next)
	}
	for i, field := range [][2]string{{s.lang.Text("sheet.fitter"), s.fitter},
		{s.lang.Text("sheet.next"), next}} {
		at := x + float64(i)*w/2
		label := s.lang.Head(field[0]) + " "
		s.put(at, base, label, st)
		from := at + st.width(label)
		if field[1] == "" {
			s.line(from, base+0.6, at+w/2-6, base+0.6, 0.15, grey)
			continue
		}
		own, text := st.shrunk(field[1], at+w/2-4-from, 0.75)
		own.bold = true
		s.put(from, base, text, own)
	}
	return y + st.height()
}

// cautions stand at the foot of the page, the first in bold, then the footer.
func (s *sheet) cautions(y float64) float64 {
	st := style{8.2 * s.scale, false, black}
	x, w := s.left()+3.5, s.inner()-3.5
	top := y
	head := style{8.6 * s.scale, true, warning}
	y = s.text(x, y, w, head, s.lang.Text("sheet.cautions")) + s.gap(0.5)
	for i, text := range s.cautionNotes() {
		own := st
		own.bold = i == 0
		y = s.text(x, y, w, own, text) + s.gap(0.6)
	}
	s.box(s.left(), top, 1.2, y-top, warning)
	if s.proof != "" {
		y = s.text(x, y+s.gap(1), w, s.quiet(), s.proof)
	}
	y = s.signature(x, y+s.gap(3), w)
	y += s.gap(2)
	foot := style{6.8 * s.scale, false, grey}
	s.put(s.left(), y+foot.height(), s.lang.Say("sheet.footer",
		words.Values{"version": s.rec.Version, "hash": s.hash8()}), foot)
	return y + foot.height()
}
