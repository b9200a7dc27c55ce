package report

import (
	"fmt"
	"strings"

	"sitspan/calibration/gum"
	"sitspan/fit"
)

// widths are, for each bike, the allowance, the width needed, the probability
// of each stocked width, and the models.
func (x *explanation) widths() {
	if len(x.advice) == 0 {
		x.section(x.l.Widths)
		x.line(x.l.NoWidth)
		return
	}
	for i, a := range x.advice {
		x.section(x.bikeTitle(i, a.Bike))
		x.requirement(a)
		x.probabilities(a.Choice)
		x.verdict(a)
		x.models(a)
	}
	x.cautions()
}

func (x *explanation) bikeTitle(i int, b fit.Bike) string {
	title := bikeName(b, i, len(x.advice), x.lang)
	if b.Use != "" && oneLine(b.Name) != "" {
		title += ", " + fit.Term(string(b.Use), x.lang)
	}
	if deg, u, ok := b.Posture.TrunkDeg(); ok {
		title += ", " + fmt.Sprintf(x.l.Trunk, degrees(deg, x.lang)) + " (u = " + degrees(u, x.lang) + ")"
	} else {
		title += ", " + x.l.HandAllowance
	}
	return title
}

// requirement is equation (3) with both parts' uncertainties.
func (x *explanation) requirement(a fit.Recommendation) {
	x.row(x.l.Spacing, fmt.Sprintf("%s (u = %s)", x.mm(a.Requirement.Spacing.Value, 1), x.mm(a.Requirement.Spacing.Budget.Combined(), 2)))
	allowance := gum.Budget(a.Requirement.Allowance.Components)
	x.row("+ "+x.l.Allowance, fmt.Sprintf("%s (u = %s)", x.mm(a.Choice.AllowanceMM, 1), x.mm(allowance.Combined(), 2)))
	for _, c := range a.Requirement.Allowance.Components {
		if c.Contribution() > 0 {
			x.row("", fmt.Sprintf("u = %s: %s (%s)", x.mm(c.Contribution(), 2), c.Source, c.Basis))
		}
	}
	for _, n := range a.Requirement.Allowance.Notes {
		x.row("", n.Text(x.lang))
	}
	U, k := a.Requirement.Required.Budget.Expanded(0.95)
	x.row("= "+x.l.Required, fmt.Sprintf("%s ± %s (95 %%, k = %s; u = %s)",
		x.mm(a.Choice.RequiredMM, 1), x.mm(roundUp(U), 1), x.num(k, 2), x.mm(a.Choice.RequiredU, 2)))
}

// probabilities list every stocked width, the chosen one marked. The rule asks
// for its level from the first that reaches it.
func (x *explanation) probabilities(c fit.Choice) {
	x.b.WriteString("\n")
	x.line(x.l.Widths + "; " + fmt.Sprintf(x.l.Level, percent(c.Level, x.lang)))
	holding := false
	for _, w := range c.Widths {
		holding = holding || w.Holding != nil
	}
	head := fmt.Sprintf("  %s  %s", padLeft(x.l.WidthHead, 12), padLeft(x.l.Probability, 20))
	if holding {
		head += "  " + padLeft(x.l.Holding, 12)
	}
	x.b.WriteString(head + "\n")
	for _, w := range c.Widths {
		row := fmt.Sprintf("  %s  %s", padLeft(plain(w.WidthMM, x.lang), 12), padLeft(percent(w.Probability, x.lang), 20))
		switch {
		case w.Holding != nil:
			row += "  " + padLeft(percent(*w.Holding, x.lang), 12)
		case holding:
			row += "  " + padLeft("-", 12)
		}
		switch {
		case c.WidthMM != nil && *c.WidthMM == w.WidthMM && c.Verdict != fit.MeasureAgain:
			row += "  <- " + x.l.Chosen
		case c.AlternativeMM != nil && *c.AlternativeMM == w.WidthMM && c.Verdict == fit.BetweenSizes:
			row += "  <- " + x.l.Other
		}
		x.b.WriteString(row + "\n")
	}
}

// verdict is the choice in words, each note a paragraph; where the allowance
// comes from was said above.
func (x *explanation) verdict(a fit.Recommendation) {
	x.b.WriteString("\n")
	x.row(x.l.Verdict, fit.Term(string(a.Choice.Verdict), x.lang))
	for _, n := range cardNotes(a) {
		x.item(n.Text(x.lang))
	}
}

// models are the ranked ones with all their reasons, those of the other size,
// and those left out.
func (x *explanation) models(a fit.Recommendation) {
	if len(a.Models)+len(a.AlternativeModels)+len(a.Excluded) == 0 {
		return
	}
	x.b.WriteString("\n  " + x.l.Models + "\n")
	for i, m := range a.Models {
		x.model(fmt.Sprintf("  %2d. ", i+1), m)
	}
	for _, m := range a.AlternativeModels {
		x.model("   -  ", m)
	}
	for _, m := range a.Excluded {
		x.wrapped("   -  ", modelName(m.Model, x.lang)+": "+m.Why.Text(x.lang))
	}
	x.line(a.Damping.Note.Text(x.lang))
}

func (x *explanation) model(indent string, m fit.RankedModel) {
	texts := make([]string, len(m.Reasons))
	for i, r := range m.Reasons {
		texts[i] = r.Note.Text(x.lang)
	}
	x.wrapped(indent, modelName(m.Model, x.lang)+": "+strings.Join(texts, "; "))
}

// cautions are what the complaints rest on, and what is read with every choice.
func (x *explanation) cautions() {
	for _, g := range x.advice[0].Guides {
		x.section(capital(fit.Term(string(g.Complaint), x.lang)))
		for _, n := range g.Saddle {
			x.item(n.Text(x.lang))
		}
		for _, c := range g.SetUp {
			x.item(c.Note.Text(x.lang))
		}
		for _, n := range g.Stop {
			x.item(n.Text(x.lang))
		}
		for _, n := range g.Basis {
			x.line(n.Text(x.lang))
		}
	}
	x.section(x.l.Cautions)
	for _, n := range x.advice[0].Cautions {
		x.item(n.Text(x.lang))
	}
}
