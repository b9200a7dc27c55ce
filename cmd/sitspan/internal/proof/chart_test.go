package proof

import (
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// The example of NIST/SEMATECH e-Handbook of Statistical Methods, 6.3.2.2, "Example of moving range": ten
// batches' flowrates and the chart's printed limits. The page was not seen
// (www.itl.nist.gov/div898/handbook/pmc/section3/pmc322.htm); several public test suites quote these numbers
// from it.
func TestChartOfTheHandbooksExample(t *testing.T) {
	points := []float64{49.6, 47.6, 49.9, 51.3, 47.8, 51.2, 52.6, 52.4, 53.6, 52.1}
	c, ok := ChartOf(points)
	require.True(t, ok)
	assert.InDelta(t, 50.81, c.Centre, 5e-3)
	assert.InDelta(t, 1.8778, c.MeanRange, 5e-5)
	assert.InDelta(t, 55.8041, c.Upper, 5e-5)
	assert.InDelta(t, 45.8159, c.Lower, 5e-5)
	for _, s := range c.Signs(points) {
		assert.NotEqual(t, Beyond, s.Rule, "the handbook: no point is outside the limits")
	}
	_, ok = ChartOf(points[:LeastPoints-1])
	assert.False(t, ok)
}

// Each Western Electric rule by points that break it and no earlier one (6.3.2 of the handbook).
func TestEachRuleFindsItsRun(t *testing.T) {
	c := Chart{Centre: 10, Sigma: 1}
	for _, row := range []struct {
		rule   Rule
		points []float64
	}{
		{Beyond, []float64{10.1, 6.9}},
		{TwoOfThree, []float64{12.1, 9.5, 12.2}},
		{FourOfFive, []float64{8.9, 8.8, 10.5, 8.7, 8.9}},
		{Eight, []float64{10.1, 10.2, 10.3, 10.1, 10.2, 10.3, 10.1, 10.2}},
	} {
		last := len(row.points) - 1
		assert.Equal(t, []Sign{{last, row.rule}}, c.Signs(row.points), row.rule)
		row.points[last] = 10
		assert.Empty(t, c.Signs(row.points), row.rule)
	}
	assert.Empty(t, c.Signs([]float64{12.1, 9.5, 7.8}), "two on different sides are no run")
}

func TestWhenACheckIsDue(t *testing.T) {
	now := time.Date(2026, 11, 28, 0, 0, 0, 0, time.UTC)
	day := now.AddDate(0, -1, 0)
	old := Setting{"foam", "P1", "a"}
	for want, s := range map[Reason]Setting{
		NotDue: old, NewPrint: {"foam", "P1", "b"}, NewPad: {"gel", "P1", "a"}, NewPhone: {"foam", "P2", "a"},
	} {
		assert.Equal(t, want, Due([]time.Time{day}, []Setting{old}, s, now))
	}
	assert.Equal(t, NotDue, Due([]time.Time{day}, []Setting{old}, Setting{"foam", "", "a"}, now), "any phone")
	assert.Equal(t, Never, Due(nil, nil, old, now))
	assert.Equal(t, Old, Due([]time.Time{now.AddDate(0, -7, 0)}, []Setting{old}, old, now))
}
