package intake

import (
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
	p := s.settings.PrintOn(m.Medium)
	used := &record.Print{Of: "card", Verified: p.Verified,
		Scale: [2]float64{p.ScaleX, p.ScaleY}, ScaleU: [2]float64{p.UX, p.UY}}
	of := s.options.Shop.PrintFor(string(m.Medium))
	if of != nil {
		used.Date = of.Date
	}
	if m.Medium == shop.Paper && (of == nil || of == s.options.Shop.PrintPaper) {
		used.Of = "paper"
	}
	return used
}
