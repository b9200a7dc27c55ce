package report

import (
	"fmt"
	"slices"
	"strings"

	"sitspan/fit"
)

// Width is a choice of width for a person: the width, then why. Its warnings
// become footnotes.
func Width(c fit.Choice, lang fit.Lang, notes *Footnotes) string {
	var b block
	b.width(c, lang, notes)
	return b.String()
}

func (b *block) width(c fit.Choice, lang fit.Lang, notes *Footnotes) {
	head := widthHead(c)
	var why []string
	for _, n := range c.Notes {
		if text := n.Text(lang); isWarning(n) {
			head += notes.mark("warning: " + text)
		} else {
			why = append(why, text)
		}
	}
	b.row("width", head)
	for _, text := range why {
		b.row("", text)
	}
}

// widthHead is the width in a few words.
func widthHead(c fit.Choice) string {
	switch {
	case c.Verdict == fit.BetweenSizes && c.WidthMM != nil && c.AlternativeMM != nil:
		return fmt.Sprintf("%g mm, between two sizes: %g mm is the other", *c.WidthMM, *c.AlternativeMM)
	case c.Verdict == fit.MeasureAgain:
		return "measure again before choosing"
	case c.Verdict == fit.OutsideStock && c.AlternativeMM != nil:
		return fmt.Sprintf("none in stock, to order: %g mm", *c.AlternativeMM)
	case c.WidthMM != nil:
		return fmt.Sprintf("%g mm", *c.WidthMM)
	}
	return string(c.Verdict)
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
