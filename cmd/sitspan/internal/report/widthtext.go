package report

import (
	"slices"
	"strings"

	"sitspan/cmd/sitspan/internal/words"
	"sitspan/fit"
)

// Width is a choice of width for a person: the width, then why. Its warnings
// become footnotes.
func Width(c fit.Choice, lang words.Lang, notes *Footnotes) string {
	b := block{lang: lang}
	b.width(c, notes)
	return b.String()
}

func (b *block) width(c fit.Choice, notes *Footnotes) {
	head := widthHead(c, b.lang)
	var why []string
	for _, n := range c.Notes {
		if text := b.note(n); isWarning(n) {
			head += notes.mark(b.lang.Say("terminal.warning", words.Values{"text": text}))
		} else {
			why = append(why, text)
		}
	}
	b.row("terminal.width", head)
	for _, text := range why {
		b.row("", text)
	}
}

// note is a note's sentence; at a terminal an example stock is told apart from
// the shop's own by flag.
func (b *block) note(n fit.Note) string {
	if n.Code == "stock.example" {
		return b.lang.Text("terminal.example_stock")
	}
	return b.lang.Note(n.Code, n.Params)
}

// widthHead is the width in a few words.
func widthHead(c fit.Choice, lang words.Lang) string {
	switch {
	case c.Verdict == fit.BetweenSizes && c.WidthMM != nil && c.AlternativeMM != nil:
		return lang.Say("terminal.between_sizes", words.Values{"width": *c.WidthMM, "other": *c.AlternativeMM})
	case c.Verdict == fit.MeasureAgain:
		return lang.Text("terminal.measure_again")
	case c.Verdict == fit.OutsideStock && c.AlternativeMM != nil:
		return lang.Say("terminal.order", words.Values{"width": *c.AlternativeMM})
	case c.WidthMM != nil:
		return lang.Plain(*c.WidthMM) + " mm"
	}
	return lang.Term(string(c.Verdict))
}

// isWarning says whether a note weakens the choice; the others say why it is
// so. The part of a code before the point names its kind.
func isWarning(n fit.Note) bool {
	if n.Code == "allowance.clamped" {
		return true
	}
	kind, _, _ := strings.Cut(n.Code, ".")
	return slices.Contains([]string{"warn", "u", "stock", "spacing"}, kind)
}
