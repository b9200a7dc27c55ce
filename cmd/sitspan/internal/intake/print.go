package intake

import (
	"sitspan/calibration"
	"sitspan/cmd/sitspan/internal/record"
	"sitspan/cmd/sitspan/internal/shop"
	"sitspan/imprint"
	"sitspan/imprint/scale"
)

// printUsed is the print whose scale a measurement rests on; nil where no frame gave the scale.
func (s *Station) printUsed(m *imprint.Measurement) *record.Print {
	if m.ScaleSource != scale.ByFrame || m.Medium == "" {
		return nil
	}
	used := PrintOf(s.options.Shop, string(m.Medium))
	return &used
}

// PrintOf is the print whose scale a measurement of a medium rests on, where a frame gives the scale, under
// a shop's settings.
func PrintOf(sh shop.Shop, medium string) record.Print {
	of, p := sh.PrintFor(medium), calibration.UnverifiedPrint()
	if of != nil {
		p = printOf(*of)
	}
	used := record.Print{Of: "card", Verified: p.Verified,
		Scale: [2]float64{p.ScaleX, p.ScaleY}, ScaleU: [2]float64{p.UX, p.UY}}
	if of != nil {
		used.Date = of.Date
	}
	if medium == shop.Paper && (of == nil || of == sh.PrintPaper) {
		used.Of = "paper"
	}
	return used
}
