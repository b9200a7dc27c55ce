// Package report turns records into what people read.
//
// Its opinion: a number is never shown without its uncertainty, a warning never
// without what would remove it, and a refusal never without what to do. What
// weakens a number is a numbered footnote beside it.
package report

import (
	"encoding/json"
	"fmt"
	"math"
	"slices"
	"strings"

	"sitspan/cmd/sitspan/internal/record"
	"sitspan/fit"
)

// shownLines is the number of a budget's lines that the text shows.
const shownLines = 3

// Text is one measurement for a person at a terminal: several lines, the first
// naming the photo. Its warnings, and the reasons for a review, become
// footnotes; Trouble says why there is no number.
func Text(m record.Measurement, notes *Footnotes) string {
	var b block
	b.head(m)
	b.parts(m.Photos)
	b.parts(m.Sittings)
	if m.Spacing != nil {
		b.spacing(m, notes)
		b.budget(m.Budget)
		b.aside(m)
	}
	if m.Advice != "" {
		b.row("better", m.Advice)
	}
	if len(m.Width) > 0 {
		b.recordedWidth(m.Width, notes)
	}
	return b.String()
}

// Trouble is why a photo gave no number: a line for each reason, with what was
// seen, what is needed, and what to do.
func Trouble(m record.Measurement) []string {
	lines := make([]string, 0, len(m.Reasons))
	for _, r := range m.Reasons {
		lines = append(lines, fmt.Sprintf("%s: %s: %s", m.Photo, m.Status, sentence(r.Message, r.Hint)))
	}
	return lines
}

// block is rows of a label and a text.
type block struct{ strings.Builder }

const labelWidth = 11

func (b *block) row(label, text string) {
	fmt.Fprintf(b, "  %-*s%s\n", labelWidth, label, text)
}

func (b *block) head(m record.Measurement) {
	words := map[string]string{
		record.Measured: "measured",
		record.Review:   "to be reviewed: look at the overlay before you use this number",
		record.Refused:  "refused: no number",
		record.Failed:   "failed: not readable",
	}
	word, known := words[m.Status]
	if !known {
		word = m.Status
	}
	medium := ""
	if m.Medium != "" {
		medium = " (" + m.Medium + ")"
	}
	fmt.Fprintf(b, "%s%s: %s\n", m.Photo, medium, word)
}

// spacing is the number with its interval, and marks for all that weakens it.
func (b *block) spacing(m record.Measurement, notes *Footnotes) {
	text := fmt.Sprintf("%.1f mm", *m.Spacing)
	if m.U != nil {
		text += fmt.Sprintf(" ± %.1f mm (%.0f %%)", roundUp(*m.U), 100*m.Coverage)
	}
	for _, r := range m.Reasons {
		text += notes.mark(sentence("review: "+r.Message, r.Hint))
	}
	for _, w := range m.Warnings {
		text += notes.mark(sentence("warning: "+w.Message, w.Remedy))
	}
	b.row("spacing", text)
}

// roundUp rounds an uncertainty to 0.1 mm, upward as is usual where the
// rounding would otherwise take more than a little off (JCGM 100:2008, 7.2.6).
func roundUp(u float64) float64 {
	nearest := math.Round(u*10) / 10
	if nearest < 0.95*u {
		return math.Ceil(u*10) / 10
	}
	return nearest
}

func sentence(what, remedy string) string {
	if remedy == "" {
		return what
	}
	return strings.TrimRight(what, ".;") + "; " + remedy
}

// budget shows the largest lines; the record holds them all.
func (b *block) budget(lines []record.BudgetLine) {
	lines = slices.Clone(lines)
	slices.SortStableFunc(lines, func(a, c record.BudgetLine) int {
		switch {
		case a.U > c.U:
			return -1
		case a.U < c.U:
			return 1
		}
		return 0
	})
	label := "mostly"
	for _, l := range lines[:min(shownLines, len(lines))] {
		text := fmt.Sprintf("u = %.2f mm  %s", l.U, l.Source)
		if l.Basis != "" {
			text += ": " + l.Basis
		}
		b.row(label, text)
		label = ""
	}
}

// aside shows what a fitter looks at who suspects a crooked seat.
func (b *block) aside(m record.Measurement) {
	label := "also"
	show := func(what string, q *record.Quantity) {
		if q != nil {
			b.row(label, fmt.Sprintf("%s %+.1f %s (u = %.1f %s)", what, q.Value, q.Unit, q.U, q.Unit))
			label = ""
		}
	}
	show("line of centres against the frame's front:", m.Yaw)
	show("depth of the dents, right minus left:", m.DepthContrast)
}

// parts lists the photos or sittings of a joint measurement.
func (b *block) parts(parts []record.Part) {
	for _, p := range parts {
		text := p.Status
		if p.Points != nil {
			text = fmt.Sprintf("%d points of the pad", *p.Points)
		}
		if p.Spacing != nil {
			text = fmt.Sprintf("%.1f mm", *p.Spacing)
			if p.U != nil {
				text += fmt.Sprintf(" ± %.1f mm", roundUp(*p.U))
			}
		}
		if p.Used && p.Difference != nil {
			text += fmt.Sprintf(", %+.1f mm from the joint result", *p.Difference)
		}
		if !p.Used {
			text += ", not used"
			if p.Why != "" {
				text += ": " + p.Why
			}
		}
		b.row("", p.Photo+": "+text)
	}
}

// recordedWidth shows a width as a record holds it.
func (b *block) recordedWidth(raw json.RawMessage, notes *Footnotes) {
	var c fit.Choice
	if err := json.Unmarshal(raw, &c); err != nil {
		b.row("width", "not readable in this record: "+err.Error())
		return
	}
	b.width(c, fit.English, notes)
}
