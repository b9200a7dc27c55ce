package proof

import (
	"testing"

	"github.com/stretchr/testify/assert"
)

func TestEnIsTheStandardsNumber(t *testing.T) {
	c := Check{DistanceMM: 120, DistanceU: 0.3, MeasuredMM: 121, MeasuredU: 0.8}
	assert.InDelta(t, 1, c.En(), 1e-12, "1 over the root of 0.8^2 + 0.6^2: the edge of passing")
	assert.Equal(t, Passed, c.Verdict())
	c.MeasuredMM = 121.01
	assert.NotEqual(t, Passed, c.Verdict())
}

func TestVerdicts(t *testing.T) {
	for _, row := range []struct {
		name  string
		check Check
		want  Verdict
	}{
		{"right", Check{120, 0.3, 120.5, 1, 0}, Passed},
		{"so wide that 3.5 % hides in it", Check{120, 0.3, 120.5, 5, 0}, PassedWide},
		{"print fitted to the page: 3.5 % too small, so the reading is too large",
			Check{120, 0.3, 120 / 0.965, 1, 40}, Fitted},
		{"118 read for 120", Check{118, 0.3, 120, 0.6, 40}, Off},
		{"118 read for 120: within 1 mm a print at 97.4 % would do it, too", Check{118, 0.3, 120, 1, 40},
			PrintOrNot},
		{"120 read for 118", Check{120, 0.3, 118, 1, 40}, Off},
		{"2.3 % may be a print or the rule", Check{117.3, 0.3, 120, 1, 0}, PrintOrNot},
		{"read from outer edge to outer edge", Check{160, 0.3, 120.4, 1, 40}, Across},
		{"read from inner edge to inner edge", Check{80, 0.3, 120.4, 1, 40}, Across},
		{"off by 40 mm, and no diameter given", Check{160, 0.3, 120.4, 1, 0}, Off},
	} {
		assert.Equal(t, row.want, row.check.Verdict(), row.name)
	}
	assert.True(t, Passed.Trusted())
	assert.False(t, PassedWide.Trusted(), "a check that could not fail proves nothing")
}

// A lens that bends lines is named before anything else is blamed, and does not undo what is right.
func TestAStrangeLensIsNamedFirst(t *testing.T) {
	for before, want := range map[Verdict]Verdict{
		Passed: PassedLens, PassedWide: PassedWide, Unlike: Unlike, NoNumber: NoNumber,
		Off: Lens, Fitted: Lens, PrintOrNot: Lens, Across: Lens,
	} {
		assert.Equal(t, want, before.ThroughStrangeLens(), before)
	}
	assert.True(t, PassedLens.Trusted())
	assert.False(t, Lens.Trusted())
}
