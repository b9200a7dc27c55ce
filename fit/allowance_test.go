package fit

import (
	"math"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"sitspan/calibration/gum"
)

func TestDefaultAllowance(t *testing.T) {
	tests := []struct {
		name            string
		deg, mm         float64
		clamped         bool
		sourceOrMeaning string
	}{
		{"lowest", 15, 0, false, "0 mm: common practice, no source; 15 deg: our assumption"},
		{"most upright", 75, 40, false, "40 mm: common practice, no source; 75 deg: our assumption"},
		{"half way", 45, 20, false, "linear"},
		{"a third", 35, 40.0 / 3, false, "linear"},
		{"below the table", 5, 0, true, "clamped"},
		{"above the table", 90, 40, true, "clamped"},
	}
	for _, tt := range tests {
		t.Run(tt.name, func(t *testing.T) {
			a, err := DefaultAllowanceTable().At(tt.deg, 0)
			require.NoError(t, err)
			assert.InDelta(t, tt.mm, a.MM, 1e-12, tt.sourceOrMeaning)
			assert.Equal(t, tt.clamped, a.Notes[0].Code == "allowance.clamped")
			assert.Equal(t, "allowance.default_table", a.Notes[len(a.Notes)-1].Code,
				"always marked as practice and assumption")
			assert.Zero(t, gum.Budget(a.Components).Combined(), "u = 0 unless the shop says otherwise")
		})
	}
}

// 0 to 40 mm over 60 degrees is 2/3 mm per degree, so 3 degrees are 2 mm.
func TestTrunkAngleUncertaintyPropagatesBySlope(t *testing.T) {
	a, err := DefaultAllowanceTable().At(45, 3)
	require.NoError(t, err)
	assert.InDelta(t, 2, gum.Budget(a.Components).Combined(), 1e-12)
}

// At the table's end the angle may lie on either side: the side that changes
// the allowance counts, by its part that lies within the table.
func TestTrunkAngleUncertaintyAtTheEnd(t *testing.T) {
	tests := []struct{ deg, uDeg, wantU float64 }{
		{75, 3, 2},  // 3 deg down: 2 mm
		{15, 3, 2},  // 3 deg up: 2 mm
		{12, 6, 2},  // reaches 18: 2 mm
		{10, 3, 0},  // reaches 13, still outside
		{100, 5, 0}, // outside
	}
	for _, tt := range tests {
		a, err := DefaultAllowanceTable().At(tt.deg, tt.uDeg)
		require.NoError(t, err)
		assert.InDelta(t, tt.wantU, gum.Budget(a.Components).Combined(), 1e-12, "%g ± %g deg", tt.deg, tt.uDeg)
	}
}

func TestShopTableCarriesItsOwnUncertaintyAndBasis(t *testing.T) {
	table, err := NewAllowanceTable([]AllowanceRow{
		{60, 30, 3, "own readings"}, {20, 0, 1, "own readings"}, {40, 10, 2, "guess"},
	})
	require.NoError(t, err, "rows come in any order")
	a, err := table.At(30, 0)
	require.NoError(t, err)
	assert.InDelta(t, 5, a.MM, 1e-12)
	assert.InDelta(t, 1.5, gum.Budget(a.Components).Combined(), 1e-12)
	assert.Equal(t, "own readings; guess", a.Components[0].Basis)
	assert.Contains(t, a.Notes[0].Params["basis"], "own readings; guess")
}

func TestAllowanceTableReportsEverythingAtOnce(t *testing.T) {
	_, err := NewAllowanceTable([]AllowanceRow{
		{15, 10, 0, ""}, {30, 5, 0, ""}, {30, 6, 0, ""}, {200, 50, -1, ""}, {50, math.NaN(), 0, ""},
	})
	require.Error(t, err)
	for _, want := range []string{
		"falls from 10 mm at 15 deg to 5 mm at 30 deg",
		"30 deg is given twice",
		"angle is 200 deg, needed: -20 to 120 deg",
		"u is -1 mm, needed: 0 to 100 mm",
		"allowance at 50 deg: allowance is NaN mm",
	} {
		assert.ErrorContains(t, err, want)
	}
	_, err = NewAllowanceTable(nil)
	assert.ErrorContains(t, err, "empty")
}

func TestPostureOutOfRangeIsRefused(t *testing.T) {
	table := DefaultAllowanceTable()
	for _, p := range []Posture{
		TrunkAngle(-30, 0), TrunkAngle(130, 0), TrunkAngle(math.NaN(), 0), TrunkAngle(45, -1),
		TrunkAngle(45, math.Inf(1)),
		AllowanceByHand(-1, 0), AllowanceByHand(140, 0), AllowanceByHand(20, -1), AllowanceByHand(math.NaN(), 0),
	} {
		_, err := p.Allowance(table)
		assert.ErrorContains(t, err, "needed", "%+v", p)
	}
}

func TestMoreUprightNeverGetsLessAllowance(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		table := drawTable(t)
		a := rapid.Float64Range(minTrunkDeg, maxTrunkDeg).Draw(t, "a")
		b := rapid.Float64Range(minTrunkDeg, maxTrunkDeg).Draw(t, "b")
		low, err := table.At(math.Min(a, b), 0)
		require.NoError(t, err)
		high, err := table.At(math.Max(a, b), 0)
		require.NoError(t, err)
		assert.LessOrEqual(t, low.MM, high.MM+slackMM)
	})
}

// drawTable draws a valid table of 1 to 6 rows, in any order.
func drawTable(t *rapid.T) AllowanceTable {
	angles := rapid.SliceOfNDistinct(rapid.IntRange(0, 90), 1, 6, rapid.ID).Draw(t, "angles")
	rows := make([]AllowanceRow, 0, len(angles))
	for _, deg := range angles {
		f := float64(deg)
		// any function that grows with the angle will do
		rows = append(rows, AllowanceRow{AngleDeg: f, MM: f * f / 200, UMM: f / 50, Basis: "drawn"})
	}
	table, err := NewAllowanceTable(rows)
	require.NoError(t, err)
	return table
}
