package reading

import (
	"math"
	"testing"

	"github.com/stretchr/testify/assert"

	"sitspan/imprint/relief"
)

// marksAt is a reading of two marks on the x axis, spacing mm apart with standard uncertainty u.
func marksAt(spacing, u float64) relief.Reading {
	return relief.Reading{
		Left:       relief.Side{At: relief.Point{X: -spacing / 2}, VarX: 1, VarY: 1},
		Right:      relief.Side{At: relief.Point{X: spacing / 2}, VarX: 1, VarY: 1},
		VarSpacing: u * u,
	}
}

// By hand, for errors that correlate by 0.65: of u = 1 and 1 the mean, with u = sqrt((1 + 0.65) / 2); of 1
// and 2 the first alone, since 1 - 0.65 * 2 is below 0 and no weight is; of 2 and 1.6 the net by four fifths.
func TestNetAndDensityAreWeighedByTheirUncertainties(t *testing.T) {
	for _, c := range []struct{ u, netU, spacing, joint float64 }{
		{1, 1, 120.5, math.Sqrt(1.65 / 2)},
		{1, 2, 120, 1},
		{2, 1, 121, 1},
		{2, 1.6, 120.8, math.Sqrt((0.04*4 + 0.64*2.56 + 2*0.65*0.2*2*0.8*1.6))},
	} {
		r := joined(marksAt(120, c.u), marksAt(121, c.netU), c.netU, 0.9)
		assert.InDelta(t, c.spacing, r.Distance(), 1e-9, "%v", c)
		assert.InDelta(t, c.joint, math.Sqrt(r.VarSpacing), 1e-9, "%v", c)
	}
}

// Readings that part by three standard uncertainties of their difference leave one three times as wide.
func TestWhatPartsWidensTheJointReading(t *testing.T) {
	near, far := joined(marksAt(120, 1), marksAt(121, 1), 1, 1), joined(marksAt(120, 1), marksAt(123, 1), 1, 3)
	assert.InDelta(t, 9, far.VarSpacing/near.VarSpacing, 1e-9)
	assert.InDelta(t, 9, far.Left.VarX/near.Left.VarX, 1e-9)
	assert.InDelta(t, 9, far.Right.VarY/near.Right.VarY, 1e-9)
}
