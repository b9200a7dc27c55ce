package report

import (
	"math"
	"math/rand/v2"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"sitspan/calibration/gum"
	"sitspan/cmd/sitspan/internal/record"
	"sitspan/cmd/sitspan/internal/words"
	"sitspan/imprint/codes"
)

func simulated(t *testing.T, lines ...record.BudgetLine) string {
	t.Helper()
	spacing := 120.0
	var b strings.Builder
	rec := record.Record{Measurement: record.Measurement{Spacing: &spacing, Coverage: 0.95, Budget: lines}}
	require.NoError(t, Simulate(&b, rec, words.English))
	return b.String()
}

// Source: JCGM 101:2008, table 2: four normal inputs of u = 1 have u = 2.00 and -+3.92, drawn as
// well as propagated; 9.2.4: three rectangular ones of u = 1 and one of u = 10 have +-17.0
// drawn, +-19.9 propagated, and the latter is not validated.
func TestSimulateTheAdditiveModel(t *testing.T) {
	even := record.BudgetLine{U: 1}
	text := simulated(t, even, even, even, even)
	assert.Contains(t, text, "normal 4")
	assert.Contains(t, text, "95 % interval: 116.08 to 123.92 mm by the budget, 116.0")
	assert.Contains(t, text, "Both agree within 0.050 mm")

	bounded := func(u float64) record.BudgetLine {
		return record.BudgetLine{U: u, BasisSaid: codes.BarsUnread.With()}
	}
	text = simulated(t, bounded(1), bounded(1), bounded(1), bounded(10))
	assert.Contains(t, text, "bounds 4")
	assert.Contains(t, text, "u = 10.149 mm by the budget, 10.1")
	assert.Regexp(t, `95 % interval: 100\.11 to 139\.89 mm by the budget, 10[23]\.\d\d to 13[67]\.\d\d mm`, text)
	assert.Contains(t, text, "They differ by 2.")
	assert.Equal(t, text, simulated(t, bounded(1), bounded(1), bounded(1), bounded(10)),
		"the same numbers each time")
}

func TestSimulateNothing(t *testing.T) {
	assert.Contains(t, simulated(t), "no budget to draw from")
	assert.Contains(t, simulated(t, record.BudgetLine{}), "no budget to draw from")
}

// Each line keeps its own u: what is drawn has the standard deviation that the record states,
// Student's by the factor sqrt(nu/(nu-2)) more (JCGM 101:2008, 6.4.9.4).
func TestLinesAreDrawnByTheirBasis(t *testing.T) {
	dof := 8.0
	lines := []record.BudgetLine{
		{U: 0.5, BasisSaid: codes.ScanStated.With(10, "EXIF", 0.5)},
		{U: 0.5, BasisSaid: codes.FlatBottom.With(1)},
		{U: 0.5, DoF: &dof},
		{U: 0.5, BasisSaid: codes.BarsMeasured.With()},
	}
	inputs, n := distributionsOf(lines)
	assert.Equal(t, shapes{1, 1, 1, 1}, n)
	for i, want := range []float64{0.5, 0.5, 0.5 * math.Sqrt(8.0/6), 0.5} {
		assert.InEpsilon(t, want, deviationOf(inputs[i]), 0.02, "line %d; four standard errors of 100,000 draws", i)
	}
}

// deviationOf is the standard deviation of 100,000 draws.
func deviationOf(draw gum.Distribution) float64 {
	random, squares := rand.New(rand.NewPCG(1, 1)), 0.0
	for range 100_000 {
		squares += math.Pow(draw(random), 2)
	}
	return math.Sqrt(squares / 100_000)
}
