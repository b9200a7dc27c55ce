package report

import (
	"math"

	"sitspan/cmd/sitspan/internal/record"
)

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
