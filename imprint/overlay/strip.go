package overlay

import (
	"image/color"
	"math"
	"strconv"
)

// Most lines of a part of the strip; what is longer is cut and says so.
const (
	mostHeadlines = 14
	mostReasons   = 5 // of one rejected place
	mostFooters   = 24
)

// block is a part of the strip: its height in px, and how to draw it from a
// top edge on.
type block struct {
	height float64
	draw   func(top float64)
}

// strip lays the words out for a canvas of a width in px: status and headline,
// section, loupes, what was left out, footer, key.
func (v *view) strip(width float64) (blocks []block) {
	pad := 0.8 * v.em
	room := width - 2*pad
	small := lettersOf(false, 0.85*v.em)
	footer := wrapped(small, v.scene.Footer, room, mostFooters)
	space := block{0.6 * v.em, func(float64) {}}
	for _, part := range [][]block{
		v.heading(pad, room), v.section(pad, room), v.loupes(pad, room), v.reasons(pad, room),
		v.paragraph(small, faint, pad, footer), v.key(small, pad, room),
	} {
		if len(part) > 0 {
			blocks = append(append(blocks, space), part...)
		}
	}
	if len(blocks) > 0 {
		blocks = append(blocks, space)
	}
	return blocks
}

// heading is the status, and the headline's first line large.
func (v *view) heading(pad, room float64) (blocks []block) {
	if len(v.scene.Headline) == 0 {
		return v.chipAlone(pad)
	}
	large := v.titleLetters(v.scene.Headline[0], room)
	titles := wrapped(large, v.scene.Headline[:1], room, mostHeadlines)
	blocks = v.paragraph(large, light, pad, titles)
	// The chip goes to the right of a short first line, else above it.
	if len(titles) == 1 && large.width(titles[0])+v.chipWidth()+v.em <= room {
		title := blocks[0].draw
		blocks[0].draw = func(top float64) {
			title(top)
			v.chip(pad+room-v.chipWidth(), top+(large.line()-1.8*v.em)/2)
		}
	} else {
		blocks = append(v.chipAlone(pad), blocks...)
	}
	rest := lettersOf(false, v.em)
	return append(blocks, v.paragraph(rest, light, pad, wrapped(rest, v.scene.Headline[1:], room,
		mostHeadlines))...)
}

// chipAlone is the status on a line of its own.
func (v *view) chipAlone(pad float64) []block {
	if v.scene.Status == "" {
		return nil
	}
	return []block{{2.2 * v.em, func(top float64) { v.chip(pad, top) }}}
}

// titleLetters are large for a number and smaller for a sentence.
func (v *view) titleLetters(title string, room float64) letters {
	if l := lettersOf(true, 2.1*v.em); l.width(plain(title)) <= room {
		return l
	}
	return lettersOf(true, 1.2*v.em)
}

// paragraph is a block a line.
func (v *view) paragraph(l letters, ink color.NRGBA, x float64, lines []string) (blocks []block) {
	for _, line := range lines {
		blocks = append(blocks, block{l.line(), func(top float64) {
			v.write(l, x, top+(l.line()+capHeight*l.em)/2, line)
			v.ink(ink)
		}})
	}
	return blocks
}

// wrapped wraps texts one after the other into so many lines at most; where
// more is lost, the last line is an ellipsis.
func wrapped(l letters, texts []string, room float64, most int) (lines []string) {
	for _, t := range texts {
		lines = append(lines, l.wrap(t, room)...)
		if len(lines) > most {
			return append(lines[:most-1], "…")
		}
	}
	return lines
}

func (v *view) chipLetters() letters { return lettersOf(true, v.em) }

// chipWidth is the status chip's width in px, 0 where there is none.
func (v *view) chipWidth() float64 {
	if v.scene.Status == "" {
		return 0
	}
	return v.chipLetters().width(v.scene.Words.Status) + 2.7*v.em
}

// chip draws the status: sign and word on the status's colour.
func (v *view) chip(x, top float64) {
	if v.scene.Status == "" {
		return
	}
	look, l := statusLooks[v.scene.Status], v.chipLetters()
	b := box{x, top, x + v.chipWidth(), top + 1.8*v.em}
	v.panel(b, 0.9*v.em)
	v.ink(look.ground)
	middle := b.centre().y
	look.sign(v.canvas, point{x + 1.1*v.em, middle}, 0.5*v.em, 0.09*v.em)
	v.write(l, x+1.9*v.em, middle+capHeight*l.em/2, v.scene.Words.Status)
	v.ink(dark)
}

// reasons explain the rejected places by the numbers that they have on the
// photo.
func (v *view) reasons(pad, room float64) (blocks []block) {
	l := lettersOf(false, v.em)
	indent := 2.6 * v.em
	for i, r := range v.scene.shown() {
		number := strconv.Itoa(i + 1)
		lines := v.paragraph(l, light, pad+indent, wrapped(l, []string{r.Why}, room-indent, mostReasons))
		if len(lines) == 0 {
			lines = v.paragraph(l, light, pad+indent, []string{""})
		}
		first := lines[0].draw
		lines[0].draw = func(top float64) {
			first(top)
			v.notThis(point{pad + 0.55*v.em, top + l.line()/2}, 0.42*v.em, math.Max(0.5, 0.05*v.em))
			v.write(l, pad+1.3*v.em, top+(l.line()+capHeight*l.em)/2, number)
			v.ink(coral)
		}
		blocks = append(blocks, lines...)
	}
	if lost := len(v.scene.Rejected) - len(v.scene.shown()); lost > 0 && v.scene.Words.More != nil {
		blocks = append(blocks, v.paragraph(l, light, pad+indent, []string{v.scene.Words.More(lost)})...)
	}
	return blocks
}
