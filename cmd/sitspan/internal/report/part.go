package report

import (
	"math"

	"sitspan/cmd/sitspan/internal/record"
	"sitspan/cmd/sitspan/internal/words"
)

// partGives is what a part of a joint result gives to it: its own distance with so many decimals, or how much
// of the pad it shows, or, where it gives neither, what became of it.
func partGives(l words.Lang, p record.Part, decimals int) string {
	switch {
	case p.Spacing != nil && p.U != nil:
		return l.Number(*p.Spacing, decimals) + " mm " + plusMinus(l, *p.U)
	case p.Spacing != nil:
		return l.Number(*p.Spacing, decimals) + " mm"
	case p.Points != nil:
		return l.Say("terminal.points", words.Values{"n": *p.Points})
	}
	return wordFor(l, "status.", p.Status)
}

// printedDifference is a part's difference from the joint result, mm: that of the two numbers as they are
// printed with so many decimals, so that who subtracts them finds it. Records of earlier versions compared
// parts in another quantity than the one that they print; there the recorded difference stands.
func printedDifference(p record.Part, joint *float64, decimals int) float64 {
	const same = 1e-3 // mm; far below what is printed, far above rounding in a record
	if p.Spacing == nil || joint == nil || math.Abs(*p.Spacing-*joint-*p.Difference) > same {
		return *p.Difference
	}
	rounded := func(mm float64) float64 { return math.Round(mm*math.Pow10(decimals)) / math.Pow10(decimals) }
	return rounded(*p.Spacing) - rounded(*joint)
}
