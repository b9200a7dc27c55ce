package known

import (
	"math"
	"testing"

	"github.com/stretchr/testify/assert"

	"sitspan/cmd/sitspan/internal/proof"
	"sitspan/cmd/sitspan/internal/record"
	"sitspan/imprint/codes"
)

// pressed is the measurement of two balls of the radii, mm, 120 mm apart and equally deep.
func pressed(left, right float64) record.Measurement {
	spacing, u, chance := 120.2, 1.0, [2]float64{109, 55}
	r := &record.Relief{StepMM: 2, Columns: 105, Rows: 69, LeftRadius: &chance[0], RightRadius: &chance[1]}
	for j := range r.Rows {
		for i := range r.Columns {
			x, y := 2*float64(i-52), 2*float64(j-34)
			depth := math.Max(12-(math.Pow(x+60, 2)+y*y)/2/left, 12-(math.Pow(x-60, 2)+y*y)/2/right)
			r.Z = append(r.Z, int(math.Round(100*math.Max(0, depth))))
		}
	}
	return record.Measurement{Status: record.Measured, Spacing: &spacing, U: &u, Relief: r,
		Left:  &record.Dent{MM: [2]float64{-60, 0}, Depth: 12},
		Right: &record.Dent{MM: [2]float64{60, 0}, Depth: 12}}
}

// Equal balls are told by the curvature about the bottoms: the curvature at the points themselves is chance.
func TestEqualBallsAreAPair(t *testing.T) {
	said := Distance{MM: 120, U: 0.3}
	assert.Equal(t, proof.Passed, said.Compare(pressed(20, 20)).Verdict)
	assert.Equal(t, proof.Passed, said.Compare(pressed(20, 26)).Verdict, "no photo tells these apart")
	assert.Equal(t, proof.Unlike, said.Compare(pressed(20, 34)).Verdict)
	assert.Equal(t, proof.Unlike, said.Compare(pressed(34, 20)).Verdict)
}

func TestOneBallIsTold(t *testing.T) {
	compared := func(said codes.Said) Made {
		reason := record.Reason{Code: said.Code, Form: said.Form, Params: said.Params}
		m := record.Measurement{Status: record.Refused, Reasons: []record.Reason{reason}}
		return Distance{MM: 120, U: 0.3}.Compare(m)
	}
	for _, said := range []codes.Said{codes.OneDent.With(), codes.OnlyOneClear.With(3.0), codes.NoDent.With()} {
		made := compared(said)
		assert.True(t, made.OneBall, said.Code)
		assert.Equal(t, proof.NoNumber, made.Verdict)
	}
	m := pressed(20, 20)
	assert.False(t, Distance{MM: 120, U: 0.3}.Compare(m).OneBall)
	m.Right.Depth = 0.3
	assert.True(t, Distance{MM: 120, U: 0.3}.Compare(m).OneBall, "the surface shows no second dent")
	assert.False(t, compared(codes.Glare.With(30.0, 10.0)).OneBall, "glare says nothing of the balls")
}
