package intake

import (
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"sitspan/calibration"
	"sitspan/cmd/sitspan/internal/proof"
	"sitspan/cmd/sitspan/internal/shop"
	"sitspan/imprint"
	"sitspan/imprint/codes"
	"sitspan/imprint/spacing"
)

// ownChecks are checks on foam, with no print measured.
func ownChecks(deviations ...float64) (list []proof.Kept) {
	for _, d := range deviations {
		c := proof.Check{DistanceMM: 120, DistanceU: 0.1, MeasuredMM: 120 + d, MeasuredU: 1}
		list = append(list, proof.Kept{Of: proof.Setting{Pad: "foam"}, Check: c, Counts: true})
	}
	return list
}

func measuredOnFoam() *imprint.Measurement {
	line := spacing.Of(codes.LeftCentre, 0.5, 1, codes.Assumed.With())
	return &imprint.Measurement{
		Medium: calibration.Foam, Spacing: &spacing.Estimate{Value: 125, Budget: spacing.Budget{line}},
	}
}

func TestAShopsChecksAreALineOfTheBudget(t *testing.T) {
	s := &Station{options: Options{Shop: shop.Default(), Checks: ownChecks(0.3, -0.4, 0.1, -0.2, 0.3)}}
	m := measuredOnFoam()
	before, _ := m.Expanded()
	assert.Nil(t, s.checked(m))
	after, _ := m.Expanded()
	assert.Greater(t, after, before)
	assert.Positive(t, m.Spacing.Budget.Part(codes.CheckedOnPad))
	assert.Empty(t, m.Warnings)

	s.options.Checks = s.options.Checks[:4]
	m = measuredOnFoam()
	s.checked(m)
	assert.Len(t, m.Spacing.Budget, 1, "four checks are too few")
	s.options.Checks, s.options.Pad = ownChecks(1, 1, 1, 1, 1), "gel"
	s.checked(m)
	assert.Len(t, m.Spacing.Budget, 1, "another pad's checks say nothing")
	s.checked(&imprint.Measurement{})
}

func TestABiasIsAWarningUnlessTheShopHasItTakenOff(t *testing.T) {
	s := &Station{options: Options{Shop: shop.Default(), Checks: ownChecks(2, 2.1, 1.9, 2, 2)}}
	m := measuredOnFoam()
	require.Nil(t, s.checked(m))
	assert.InDelta(t, 125, m.Spacing.Value, 0)
	require.Len(t, m.Warnings, 1)
	assert.True(t, codes.BiasOfChecks.Is(m.Warnings[0]))
	assert.InDelta(t, 2, m.Warnings[0].Params["deviation"], 1e-9)

	s.options.Shop.CorrectByChecks = true
	m = measuredOnFoam()
	off := s.checked(m)
	require.NotNil(t, off)
	assert.InDelta(t, 2, *off, 1e-9)
	assert.InDelta(t, 123, m.Spacing.Value, 1e-9)
	assert.Positive(t, m.Spacing.Budget.Part(codes.CorrectedByChecks))
	assert.Empty(t, m.Warnings)
}
