package report

import (
	"fmt"

	"sitspan/calibration/gum"
	"sitspan/cmd/sitspan/internal/words"
	"sitspan/fit"
)

// widths are, for each bike, the allowance, the width needed, the probability
// of each stocked width, and the models.
func (x *explanation) widths() {
	if len(x.advice) == 0 {
		x.section(x.lang.Text("explain.widths"))
		x.line(x.lang.Text("explain.no_width"))
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
		title += ", " + x.lang.Term(string(b.Use))
	}
	if deg, u, ok := b.Posture.TrunkDeg(); ok {
		title += ", " + x.lang.Say("posture.trunk", words.Values{"angle": deg}) + " (u = " + x.lang.Degrees(u) + ")"
	} else {
		title += ", " + x.lang.Text("posture.by_hand")
	}
	return title
}

// requirement is equation (3) with both parts' uncertainties.
func (x *explanation) requirement(a fit.Recommendation) {
	x.row(x.lang.Text("explain.spacing"), fmt.Sprintf("%s (u = %s)", x.mm(a.Requirement.Spacing.Value, 1),
		x.mm(a.Requirement.Spacing.Budget.Combined(), 2)))
	allowance := gum.Budget(a.Requirement.Allowance.Components)
	x.row("+ "+x.lang.Text("explain.allowance"), fmt.Sprintf("%s (u = %s)", x.mm(a.Choice.AllowanceMM, 1),
		x.mm(allowance.Combined(), 2)))
	for _, c := range a.Requirement.Allowance.Components {
		if c.Contribution() > 0 {
			x.row("", fmt.Sprintf("u = %s: %s (%s)", x.mm(c.Contribution(), 2), c.Source, c.Basis))
		}
	}
	for _, n := range a.Requirement.Allowance.Notes {
		x.row("", x.lang.Note(n.Code, n.Params))
	}
	U, k := a.Requirement.Required.Budget.Expanded(0.95)
	x.row("= "+x.lang.Text("width.needed"), fmt.Sprintf("%s %s (95 %%, k = %s; u = %s)",
		x.mm(a.Choice.RequiredMM, 1), plusMinus(x.lang, U), x.num(k, 2), x.mm(a.Choice.RequiredU, 2)))
}

// probabilities list every stocked width, the chosen one marked. The rule asks
// for its level from the first that reaches it.
func (x *explanation) probabilities(c fit.Choice) {
	x.b.WriteString("\n")
	x.line(x.lang.Joined(x.lang.Text("explain.widths"), x.lang.Say("explain.level",
		words.Values{"level": c.Level})))
	holding := false
	for _, w := range c.Widths {
		holding = holding || w.Holding != nil
	}
	head := fmt.Sprintf("  %s  %s", padLeft(x.lang.Text("explain.width_head"), 12),
		padLeft(x.lang.Text("explain.probability"), 20))
	if holding {
		head += "  " + padLeft(x.lang.Text("explain.holding"), 12)
	}
	x.b.WriteString(head + "\n")
	for _, w := range c.Widths {
		row := fmt.Sprintf("  %s  %s", padLeft(x.lang.Plain(w.WidthMM), 12),
			padLeft(x.lang.Percent(w.Probability), 20))
		switch {
		case w.Holding != nil:
			row += "  " + padLeft(x.lang.Percent(*w.Holding), 12)
		case holding:
			row += "  " + padLeft("-", 12)
		}
		switch {
		case c.WidthMM != nil && *c.WidthMM == w.WidthMM && c.Verdict != fit.MeasureAgain:
			row += "  <- " + x.lang.Text("width.chosen")
		case c.AlternativeMM != nil && *c.AlternativeMM == w.WidthMM && c.Verdict == fit.BetweenSizes:
			row += "  <- " + x.lang.Text("width.other")
		}
		x.b.WriteString(row + "\n")
	}
}

// verdict is the choice in words, each note a paragraph; where the allowance
// comes from was said above.
func (x *explanation) verdict(a fit.Recommendation) {
	x.b.WriteString("\n")
	x.row(x.lang.Text("explain.verdict"), x.lang.Term(string(a.Choice.Verdict)))
	for _, n := range cardNotes(a) {
		x.item(x.lang.Note(n.Code, n.Params))
	}
}

// models are the ranked ones with all their reasons, those of the other size,
// and those left out.
func (x *explanation) models(a fit.Recommendation) {
	if len(a.Models)+len(a.AlternativeModels)+len(a.Excluded) == 0 {
		return
	}
	x.b.WriteString("\n  " + x.lang.Text("explain.models") + "\n")
	for i, m := range a.Models {
		x.model(fmt.Sprintf("  %2d. ", i+1), m)
	}
	if same := a.Equals(); same != nil {
		x.line(x.lang.Say("explain.equal", words.Values{"n": len(same), "models": modelNames(same, len(same))}))
	}
	for _, m := range a.AlternativeModels {
		x.model("   -  ", m)
	}
	for _, m := range a.Excluded {
		x.wrapped("   -  ", x.lang.Labelled(modelName(m.Model, x.lang), x.lang.Note(m.Why.Code, m.Why.Params)))
	}
	x.line(x.lang.Note(a.Damping.Note.Code, a.Damping.Note.Params))
}

func (x *explanation) model(indent string, m fit.RankedModel) {
	texts := make([]string, len(m.Reasons))
	for i, r := range m.Reasons {
		texts[i] = x.lang.Note(r.Note.Code, r.Note.Params)
	}
	x.wrapped(indent, x.lang.Labelled(modelName(m.Model, x.lang), x.lang.Joined(texts...)))
}

// cautions are what the complaints rest on, and what is read with every choice.
func (x *explanation) cautions() {
	for _, g := range x.advice[0].Guides {
		x.section(capital(x.lang.Term(string(g.Complaint))))
		for _, n := range g.Saddle {
			x.item(x.lang.Note(n.Code, n.Params))
		}
		for _, c := range g.SetUp {
			x.item(x.lang.Note(c.Note.Code, c.Note.Params))
		}
		for _, n := range g.Stop {
			x.item(x.lang.Note(n.Code, n.Params))
		}
		for _, n := range g.Basis {
			x.line(x.lang.Note(n.Code, n.Params))
		}
	}
	x.section(x.lang.Text("explain.cautions"))
	for _, n := range x.advice[0].Cautions {
		x.item(x.lang.Note(n.Code, n.Params))
	}
}
