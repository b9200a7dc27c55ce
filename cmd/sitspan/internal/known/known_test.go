package known

import (
	"testing"

	"github.com/stretchr/testify/assert"

	"sitspan/cmd/sitspan/internal/proof"
	"sitspan/cmd/sitspan/internal/record"
	"sitspan/imprint/codes"
)

// pressed is the measurement of two balls whose dents have these radii of curvature, mm, 120 mm apart and
// equally deep.
func pressed(left, right float64) record.Measurement {
	spacing, u := 120.2, 1.0
	r := &record.Relief{Curvature: []float64{1 / left, 1 / right}, CurvatureReach: 12,
		CurvatureU: []float64{0.01 / left, 0.01 / right}}
	return record.Measurement{Status: record.Measured, Spacing: &spacing, U: &u, Relief: r,
		Left:  &record.Dent{MM: [2]float64{-60, 0}, Depth: 12},
		Right: &record.Dent{MM: [2]float64{60, 0}, Depth: 12}}
}

// Equal balls are told by the curvature about the bottoms: the curvature at the points themselves is chance.
func TestEqualBallsAreAPair(t *testing.T) {
	said := Distance{MM: 120, U: 0.3}
	assert.Equal(t, proof.Passed, said.Compare(pressed(20, 20)).Verdict)
	assert.Equal(t, proof.Passed, said.Compare(pressed(20, 22)).Verdict, "no photo tells these apart")
	assert.Equal(t, proof.Unlike, said.Compare(pressed(20, 27)).Verdict)
	assert.Equal(t, proof.Unlike, said.Compare(pressed(27, 20)).Verdict)
	old := pressed(20, 27)
	old.Relief.Curvature = nil
	assert.Equal(t, proof.Passed, said.Compare(old).Verdict, "nothing is known of them")
}

func TestAWrongDiameterIsAsked(t *testing.T) {
	m := pressed(18, 18) // as balls of 40 mm
	assert.Zero(t, Distance{MM: 120, U: 0.3, DiameterMM: 40}.Compare(m).LikeBallMM)
	assert.Zero(t, Distance{MM: 120, U: 0.3}.Compare(m).LikeBallMM, "nobody said")
	assert.InDelta(t, 40, Distance{MM: 120, U: 0.3, DiameterMM: 62}.Compare(m).LikeBallMM, 1)
	unlike := pressed(18, 30)
	assert.Zero(t, Distance{MM: 120, U: 0.3, DiameterMM: 62}.Compare(unlike).LikeBallMM, "no pair at all")
}

func TestShallowDentsAreTold(t *testing.T) {
	said, m := Distance{MM: 120, U: 0.3}, pressed(20, 20)
	assert.Zero(t, said.Compare(m).ShallowMM)
	m.Left.Depth = 5.6
	assert.InDelta(t, 5.6, said.Compare(m).ShallowMM, 0)
	m.Relief = nil
	assert.Zero(t, said.Compare(m).ShallowMM, "a depth by a pad's profile says nothing of this imprint")
}

// A strange lens passes where the number is right, and is blamed where it is not or where there is none.
func TestAStrangeLensHasItsOwnWord(t *testing.T) {
	said := Distance{MM: 120, U: 0.3}
	m, w := pressed(20, 20), codes.LensUnusual.With()
	m.Warnings = []record.Warning{{Code: w.Code, Form: w.Form}}
	assert.Equal(t, proof.PassedLens, said.Compare(m).Verdict)
	said.MM = 116
	assert.Equal(t, proof.Lens, said.Compare(m).Verdict)
	beyond := codes.LensBeyond.With(12.0, 3.5)
	m = pressed(20, 20)
	m.Status = record.Review
	m.Reasons = []record.Reason{{Code: beyond.Code, Form: beyond.Form, Params: beyond.Params}}
	made := said.Compare(m)
	assert.Equal(t, proof.Lens, made.Verdict)
	assert.False(t, made.Number)
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
