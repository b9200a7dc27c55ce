// Package report turns records into what people read.
//
// Its opinion: a number is never shown without its uncertainty, a warning never
// without what would remove it, and a refusal never without what to do. What
// weakens a number is a numbered footnote beside it.
package report

import (
	"encoding/json"
	"fmt"
	"slices"
	"strings"
	"time"
	"unicode/utf8"

	"sitspan/calibration/gum"
	"sitspan/cmd/sitspan/internal/record"
	"sitspan/cmd/sitspan/internal/sentence"
	"sitspan/cmd/sitspan/internal/words"
	"sitspan/fit"
	"sitspan/imprint/codes"
)

// shownLines is the number of a budget's lines that the text shows.
const shownLines = 3

// Text is one measurement for a person at a terminal: several lines, the first
// naming the photo. Its warnings, and the reasons for a review, become
// footnotes; Trouble says why there is no number.
//
// The width comes first, then the distance, then what to do; what the numbers
// rest on is told by Explain.
func Text(m record.Measurement, lang words.Lang, notes *Footnotes) string {
	return lines(m, lang, notes, betterKey(m, postureU(m)))
}

// TextOfPress is Text of an imprint that no rider made: nobody is asked to sit again.
func TextOfPress(m record.Measurement, lang words.Lang, notes *Footnotes) string {
	key := betterKey(m, 0)
	if key == "sittings" || key == "ink" {
		key = "press"
	}
	return lines(m, lang, notes, key)
}

func lines(m record.Measurement, lang words.Lang, notes *Footnotes, improve string) string {
	b := block{lang: lang}
	b.head(m)
	if len(m.Width) > 0 {
		b.recordedWidth(m.Width, notes)
	}
	if m.Spacing != nil {
		b.spacing(m, notes)
	}
	key := "terminal.better"
	for _, said := range better(lang, m, improve, postureU(m)) {
		b.row(key, said)
		key = ""
	}
	if m.Spacing != nil {
		b.budget(m.Budget)
		b.aside(m)
		if p := m.Print; p != nil {
			b.row("terminal.print", printUsed(b.lang, *p))
		}
	}
	b.parts("terminal.photos", m.Photos, m.Spacing)
	b.parts("terminal.sittings", m.Sittings, m.Spacing)
	return b.String()
}

// Trouble is why a photo gave no number: a line for each reason, with what was
// seen, what is needed, and what to do.
func Trouble(m record.Measurement, lang words.Lang) []string {
	lines := make([]string, 0, len(m.Reasons))
	for _, r := range m.Reasons {
		lines = append(lines, lang.Labelled(m.Photo, lang.Labelled(wordFor(lang, "terminal.trouble.", m.Status),
			reason(lang, r))))
	}
	for _, w := range m.Warnings {
		if codes.FirstPage.Is(w.Said()) { // the number may be on another page
			said := sentence.OfWarning(lang, w)
			lines = append(lines, lang.Labelled(m.Photo, lang.Say("terminal.warning",
				words.Values{"text": together(lang, said.Seen, said.Do)})))
		}
	}
	return lines
}

// block is rows of a label and a text.
type block struct {
	strings.Builder
	lang words.Lang
}

const labelWidth = 11

// textWidth is the longest line of the text, in letters; only a single long word, such as a path, goes
// beyond.
const textWidth = 99

// row is a text behind the label of a key, over several lines where it is long; without a key it goes on.
func (b *block) row(key, text string) {
	for _, line := range folded(text, textWidth-2-labelWidth) {
		b.line(key, line)
		key = ""
	}
}

// line is row for a text that stays on one line.
func (b *block) line(key, text string) {
	label := ""
	if key != "" {
		label = b.lang.Text(key)
	}
	fmt.Fprintf(b, "  %s%s%s\n", label, strings.Repeat(" ", max(1, labelWidth-utf8.RuneCountInString(label))),
		text)
}

// folded breaks a text at spaces into lines of so many letters.
func folded(text string, most int) (lines []string) {
	for utf8.RuneCountInString(text) > most {
		end, at := 0, 0
		for i, r := range text {
			unit := strings.HasPrefix(text[i:], " mm") || strings.HasPrefix(text[i:], " %")
			if r == ' ' && i > 0 && !unit && (at <= most || end == 0) {
				end = i
			}
			at++
		}
		if end == 0 {
			break
		}
		lines, text = append(lines, strings.TrimRight(text[:end], " ")), strings.TrimLeft(text[end:], " ")
	}
	return append(lines, text)
}

// Row is a line of the text of a measurement, behind the label of a key of
// words.
func Row(lang words.Lang, key, text string) string {
	b := block{lang: lang}
	b.row(key, text)
	return b.String()
}

// PathRow is Row for a path, which is never broken.
func PathRow(lang words.Lang, key, path string) string {
	b := block{lang: lang}
	b.line(key, path)
	return b.String()
}

func (b *block) head(m record.Measurement) {
	medium := ""
	if m.Medium != "" {
		medium = " (" + wordFor(b.lang, "terminal.medium.", m.Medium) + ")"
	}
	fmt.Fprintf(b, "%s%s: %s\n", m.Photo, medium, wordFor(b.lang, "terminal.head.", m.Status))
}

// spacing is the number with its interval, and marks for all that weakens it.
func (b *block) spacing(m record.Measurement, notes *Footnotes) {
	text := b.lang.Number(*m.Spacing, 1) + " mm"
	if m.U != nil {
		text += fmt.Sprintf(" %s (%s %%)", plusMinus(b.lang, *m.U), b.lang.Number(100*m.Coverage, 0))
	}
	for _, r := range m.Reasons {
		text += notes.mark(b.lang.Say("terminal.review", words.Values{"text": reason(b.lang, r)}))
	}
	for _, w := range m.Warnings {
		said := sentence.OfWarning(b.lang, w)
		text += notes.mark(b.lang.Say("terminal.warning", words.Values{"text": together(b.lang, said.Seen,
			flagged(b.lang, w.Said(), said.Do))}))
	}
	b.row("terminal.spacing", text)
}

// plusMinus is an expanded uncertainty with its unit: "± 1.3 mm".
func plusMinus(lang words.Lang, u float64) string { return "± " + StatedU(lang, u) + " mm" }

// StatedU is an expanded uncertainty in mm, everywhere in the same digits.
func StatedU(lang words.Lang, u float64) string {
	stated := gum.Stated(u)
	return lang.Number(stated, gum.Decimals(stated))
}

// reason is a reason as a terminal says it.
func reason(lang words.Lang, r record.Reason) string {
	said := sentence.OfReason(lang, r)
	return together(lang, said.Seen, flagged(lang, r.Said(), said.Do))
}

// flagged puts the flags that do it behind what is to do: at a terminal, and
// nowhere else.
func flagged(lang words.Lang, s codes.Said, do string) string {
	for _, form := range []string{s.Form, ""} {
		if key := "terminal.flags." + codes.Key(s.Kind, s.Code, form); words.Has(words.English, key) {
			return do + " (" + lang.Text(key) + ")"
		}
	}
	return do
}

// together is what was seen and what to do in a line.
func together(lang words.Lang, seen, do string) string {
	if do == "" {
		return seen
	}
	return lang.Joined(strings.TrimRight(seen, ".;"), do)
}

// budget names the influences of the largest lines; Explain shows all, and what
// each rests on.
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
	key := "terminal.mostly"
	for _, l := range lines[:min(shownLines, len(lines))] {
		b.row(key, "u = "+b.lang.Number(l.U, 2)+" mm  "+sentence.Source(b.lang, l))
		key = ""
	}
}

// aside shows what a fitter looks at who suspects a crooked seat.
func (b *block) aside(m record.Measurement) {
	key := "terminal.also"
	show := func(what string, q *record.Quantity) {
		if q != nil {
			b.row(key, b.lang.Say(what, words.Values{"value": q.Value, "u": q.U}))
			key = ""
		}
	}
	show("terminal.yaw", m.Yaw)
	show("terminal.depth_contrast", m.DepthContrast)
}

// printUsed says which print's scale was applied.
func printUsed(lang words.Lang, p record.Print) string {
	form := "never"
	switch {
	case p.Verified && p.Date != "":
		form = "dated"
	case p.Verified:
		form = "verified"
	}
	day, _ := time.Parse(time.DateOnly, p.Date) // a record's date was checked in the shop's file
	return lang.Say("terminal.print."+form, words.Values{"of": lang.Text("terminal.print.of_" + p.Of),
		"x": p.Scale[0], "y": p.Scale[1], "date": day})
}

// parts lists the photos or sittings of a joint measurement, which is joint mm.
func (b *block) parts(key string, parts []record.Part, joint *float64) {
	for i, p := range parts {
		text := partGives(b.lang, p, 1)
		if p.Used && p.Difference != nil {
			text += ", " + b.lang.Say("terminal.part_difference",
				words.Values{"difference": printedDifference(p, joint, 1)})
		}
		if !p.Used {
			text += ", " + b.lang.Text("terminal.not_used")
			if why := sentence.Why(b.lang, p); why != "" {
				text = b.lang.Labelled(text, why)
			}
		}
		b.row(key, b.lang.Labelled(PartName(parts, i), text))
		key = ""
	}
}

// PartName is a part's name; with its place where others have the same, as phones give them.
func PartName(parts []record.Part, i int) string {
	for k, p := range parts {
		if k != i && p.Photo == parts[i].Photo {
			return fmt.Sprintf("%s (%d)", p.Photo, i+1)
		}
	}
	return parts[i].Photo
}

// recordedWidth shows a width as a record holds it.
func (b *block) recordedWidth(raw json.RawMessage, notes *Footnotes) {
	var c fit.Choice
	if err := json.Unmarshal(raw, &c); err != nil {
		b.row("terminal.width", b.lang.Say("terminal.unreadable", words.Values{"fault": err}))
		return
	}
	b.width(c, notes)
}
