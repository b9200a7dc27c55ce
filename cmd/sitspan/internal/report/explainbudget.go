package report

import (
	"cmp"
	"fmt"
	"math"
	"slices"
	"strings"
	"unicode/utf8"

	"sitspan/calibration/gum"
	"sitspan/cmd/sitspan/internal/record"
	"sitspan/cmd/sitspan/internal/sentence"
	"sitspan/cmd/sitspan/internal/words"
)

// share is one influence's part of the combined variance, 0 to 1.
func share(l record.BudgetLine, combined float64) float64 {
	if combined == 0 {
		return 0
	}
	return l.U * l.U / (combined * combined)
}

// budget is the spacing's budget, largest line first, and what it comes to.
func (x *explanation) budget() {
	x.section(x.lang.Text("explain.budget"))
	budget := x.spacing.Budget
	u := budget.Combined()
	lines := slices.Clone(x.m.Budget)
	slices.SortStableFunc(lines, func(a, b record.BudgetLine) int {
		return cmp.Compare(b.U, a.U)
	})
	if len(lines) > 0 {
		fmt.Fprintf(&x.b, "  %s %s %s  %s: %s\n", padLeft(x.lang.Text("explain.contribution"), 8),
			padLeft(x.lang.Text("explain.share"), 8), padLeft(x.lang.Text("explain.dof"), 12),
			x.lang.Text("explain.source"), x.lang.Text("explain.basis"))
	}
	for _, l := range lines {
		dof := x.lang.Text("explain.infinite")
		if l.DoF != nil && *l.DoF > 0 {
			dof = x.num(*l.DoF, 0)
		}
		numbers := fmt.Sprintf("  %s %s %s  ", padLeft(x.num(l.U, 3), 8),
			padLeft(x.num(100*share(l, u), 1)+" %", 8), padLeft(dof, 12))
		text := sentence.Source(x.lang, l)
		if basis := sentence.Basis(x.lang, l); basis != "" {
			text = x.lang.Labelled(text, basis)
		}
		x.wrapped(numbers, text)
	}
	x.spacingLines(u)
	posture := 0.0
	if len(x.advice) > 0 {
		posture = gum.Budget(x.advice[0].Requirement.Allowance.Components).Combined()
	}
	label := x.lang.Text("explain.advice")
	for _, text := range better(x.lang, x.m, betterKey(x.m, posture), posture) {
		x.row(label, text)
		label = ""
	}
}

// spacingLines are u, k, U and the spacing. Where the record's own U is not
// what its budget gives, it is said.
func (x *explanation) spacingLines(u float64) {
	stated := x.m.U
	if len(x.spacing.Budget) > 0 {
		U, k := x.spacing.Budget.Expanded(x.m.Coverage)
		x.b.WriteString("\n")
		x.line(x.lang.Text("explain.combined") + " = " + x.mm(u, 3))
		nu := x.lang.Text("explain.infinite")
		if dof := x.spacing.Budget.EffectiveDoF(); dof < 1e6 {
			nu = x.num(math.Floor(dof), 0)
		}
		x.line(x.lang.Say("explain.factor", words.Values{"k": k, "coverage": 100 * x.m.Coverage, "dof": nu}))
		x.line(x.lang.Text("explain.expanded") + " = " + x.mm(U, 2))
		const printed = 0.05 // mm, half of the last digit that is shown to a fitter
		if stated != nil && math.Abs(U-*stated) > printed {
			x.line(x.lang.Say("explain.mismatch", words.Values{"stated": *stated, "own": U}))
		}
	}
	text := x.mm(*x.m.Spacing, 1)
	if stated != nil {
		text += " " + plusMinus(x.lang, *stated)
	}
	x.b.WriteString("\n")
	x.row(x.lang.Text("explain.spacing"), text)
}

// padLeft puts spaces before a text, by letters and not by bytes.
func padLeft(s string, n int) string {
	return strings.Repeat(" ", max(0, n-utf8.RuneCountInString(s))) + s
}
