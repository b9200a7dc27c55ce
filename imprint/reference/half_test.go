package reference

import (
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"sitspan/imprint/homography"
)

// A large picture's rule is looked for in its half and measured in the whole: distances come back within
// their own expanded uncertainty (k = 2), and u is that of a whole picture's lines.
func TestALargePicturesRuleIsMeasuredInTheWhole(t *testing.T) {
	for unit, lengths := range map[float64][]float64{1: {3, 4.5, 6}, 0.5: {2.2, 3.2, 4.5, 6}} {
		multiples := []int{5, 10}
		if unit == 0.5 {
			multiples = []int{2, 10, 20}
		}
		v := view{7000, 400, 0.03, 0.02, 5700, 700}
		r, err := NewSearch(drawnRule(v, unit, multiples, lengths)).Rule(v.known())
		require.NoError(t, err, unit)
		assert.Equal(t, unit, r.Period)
		assert.Greater(t, r.Length, 140.0)
		a, b := homography.Pixel{X: 1300, Y: 200}, homography.Pixel{X: 4400, Y: 500}
		requireSpan(t, &r.Pose, v, a, b, 1.2, unit)
	}
}

// A place of the half's strip lies where the whole's has it: pixel x of the half is 2x and 2x + 1 of the
// whole, so that its middle is at 2x + 0.5.
func TestAStripDoubled(t *testing.T) {
	s := strip{ox: 10, oy: 20, dx: 0.6, dy: 0.8, from: 5, to: 90, at: []float64{7}, frequency: []float64{0.1}}
	d := s.doubled()
	half, whole := s.point(7, -3), d.point(14, -6)
	assert.InDelta(t, 2*half.X+0.5, whole.X, 1e-12)
	assert.InDelta(t, 2*half.Y+0.5, whole.Y, 1e-12)
	assert.Equal(t, []float64{10, 180, 14, 0.05}, []float64{d.from, d.to, d.at[0], d.frequency[0]})
	assert.Equal(t, 7.0, s.at[0], "the half's own is as it was")
}

// Millimetres in the one and half millimetres in the other are no rule: one of them is wrong by half.
func TestHalfAndWholeMustAgree(t *testing.T) {
	one, other := &Rule{Period: 1}, &Rule{Period: 0.5}
	assert.Same(t, one, agreeing(&Rule{Period: 1}, one))
	assert.Nil(t, agreeing(other, one))
	assert.Nil(t, agreeing(other, nil))
}

// Strokes of more than 12 mm, a millimetre apart, are no graduation: cloth and combs look like that.
func TestLongStrokesAreNoRule(t *testing.T) {
	v := view{1500, 230, 0.02, 0.1, 1400, 1050}
	_, err := NewSearch(drawnRule(v, 1, []int{5, 10}, []float64{14.5, 16.5, 19})).Rule(v.known())
	assert.ErrorIs(t, err, ErrNoRule)
	_, err = NewSearch(drawnRule(v, 1, []int{5, 10}, []float64{8, 10, 12})).Rule(v.known())
	assert.NoError(t, err)
}
