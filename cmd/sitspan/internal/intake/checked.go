package intake

import (
	"sitspan/cmd/sitspan/internal/proof"
	"sitspan/imprint"
	"sitspan/imprint/codes"
)

// checked gives a measurement the line that the shop's checks of its pad and print make, and a warning where
// they have proved a deviation. It returns what was taken off, mm; nil where nothing was.
func (s *Station) checked(m *imprint.Measurement) *float64 {
	if m.Spacing == nil {
		return nil
	}
	pad := proof.PadKey(s.options.Pad, string(m.Medium))
	bias, ok := proof.BiasFor(s.options.Checks, pad, s.options.Shop.PrintKey(string(m.Medium)))
	if !ok {
		return nil
	}
	before := m.Spacing.Value
	with := bias.On(*m.Spacing, s.options.Shop.CorrectByChecks)
	m.Spacing = &with
	if takenOff := before - with.Value; takenOff != 0 {
		return &takenOff
	}
	if bias.Significant {
		m.Warnings = append(m.Warnings, codes.BiasOfChecks.With(bias.MeanMM, bias.Expanded(), bias.Checks))
	}
	return nil
}
