package fit

import (
	"encoding/json"
	"math"
	"os"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"sitspan/calibration/gum"
)

// severalRecommendations has every kind of thing in it that a recommendation
// can hold: both postures, finite degrees of freedom, a model left out.
func severalRecommendations(t *testing.T) []Recommendation {
	t.Helper()
	spacing := gum.Estimate{Value: 126.4, Budget: gum.Budget{
		{Source: "left centre", Std: 1.4, Unit: "mm", Sensitivity: 1, DoF: 12, Basis: "fit"},
		{Source: "print scale", Std: 0.0015, Unit: "1", Sensitivity: 126.4, DoF: math.Inf(1), Basis: "check bar"},
	}}
	recs, err := demoAdvisor(t).Recommend(spacing, Rider{
		MassKg: 112, Complaints: []Complaint{Numbness, OneSidedPain},
		Bikes: []Bike{
			{Name: "winter", Use: Road, Posture: TrunkAngle(45, 3)},
			{Use: City, Posture: AllowanceByHand(30, 1)},
			{Name: "too upright", Use: City, Posture: AllowanceByHand(90, 0)},
		},
	})
	require.NoError(t, err)
	return recs
}

func TestRecommendationsOutliveTheirJSON(t *testing.T) {
	recs := severalRecommendations(t)
	first, err := json.Marshal(recs)
	require.NoError(t, err)
	var again []Recommendation
	require.NoError(t, json.Unmarshal(first, &again))
	second, err := json.Marshal(again)
	require.NoError(t, err)
	assert.Equal(t, string(first), string(second))

	for i, want := range recs {
		got := again[i]
		assert.Equal(t, want.Bike, got.Bike)
		for _, w := range want.Choice.Widths { // not only the numbers that were written
			assert.Equal(t, w.Probability, got.Requirement.ProbabilityWithin(w.WidthMM), "bike %d, %g mm", i,
				w.WidthMM)
		}
		assert.Equal(t, len(want.Excluded), len(got.Excluded))
		assert.Equal(t, codesIn(want), codesIn(got))
	}
	assert.NotEmpty(t, again[0].Excluded)
}

// codesIn is everything that a recommendation says, in its order.
func codesIn(r Recommendation) (codes []string) {
	r.EachNote(func(n *Note) { codes = append(codes, n.Code) })
	return codes
}

// Records hold this file's JSON: it must load for ever.
func TestKeptRecommendationsLoad(t *testing.T) {
	data, err := os.ReadFile("testdata/recommendations-1.json")
	require.NoError(t, err)
	var recs []Recommendation
	require.NoError(t, json.Unmarshal(data, &recs))
	require.Len(t, recs, 3)
	deg, u, ok := recs[0].Bike.Posture.TrunkDeg()
	assert.True(t, ok)
	assert.Equal(t, []float64{45, 3}, []float64{deg, u})
	assert.Equal(t, BetweenSizes, recs[0].Choice.Verdict)
	assert.InDelta(t, 146.4, recs[0].Requirement.Required.Value, 1e-9)
	assert.Equal(t, Against, recs[0].Models[0].Reasons[0].Grade, "no wide enough road saddle holds 112 kg")
	assert.Equal(t, For, recs[0].AlternativeModels[0].Reasons[0].Grade)
	assert.Equal(t, OutsideStock, recs[2].Choice.Verdict)
	assert.Len(t, recs[1].Guides, 2)
}

func TestBrokenRecommendationsAreRefused(t *testing.T) {
	tests := []struct{ text, want string }{
		{`[{"bike": {"posture": {}}}]`, "either trunk_deg or allowance_mm"},
		{`[{"bike": {"posture": {"trunk_deg": 40, "allowance_mm": 20}}}]`, "either trunk_deg or allowance_mm"},
		{`[{"models": [{"reasons": [{"grade": "splendid"}]}]}]`, `grade "splendid" is not known`},
		{`[{"requirement": {"spacing_budget": [{"source": "lens", "u_input": -1}]}}]`, "spacing: "},
		{`[{"requirement": {"allowance_budget": [{"source": "table", "u_input": -1}]}}]`, "allowance: "},
	}
	for _, tt := range tests {
		var recs []Recommendation
		assert.ErrorContains(t, json.Unmarshal([]byte(tt.text), &recs), tt.want)
	}
	_, err := json.Marshal(Reason{Grade: 9})
	assert.ErrorContains(t, err, "grade 9")
}
