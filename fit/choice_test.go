package fit

import (
	"encoding/json"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// The fields are a contract with scripts.
func TestChoiceJSONContract(t *testing.T) {
	c := choose(t, 125, 4, 20, steps(t, 140, 170, 10))
	var got map[string]any
	b, err := json.Marshal(c)
	require.NoError(t, err)
	require.NoError(t, json.Unmarshal(b, &got))
	assert.Equal(t, 145.0, got["required_mm"])
	assert.Equal(t, 4.0, got["required_u_mm"])
	assert.Equal(t, 20.0, got["allowance_mm"])
	assert.Equal(t, 160.0, got["width_mm"])
	assert.Equal(t, "between_sizes", got["verdict"])
	assert.Equal(t, 150.0, got["alternative_mm"])
	assert.InDelta(t, 0.99991, got["probability"], 1e-5, "Φ(15/4), by Python's math.erf")
	widths := got["widths"].([]any)
	require.Len(t, widths, 4)
	assert.InDelta(t, 0.89435, widths[1].(map[string]any)["probability"], 1e-5, "Φ(5/4), by Python's math.erf")
	note := got["notes"].([]any)[0].(map[string]any)
	assert.Equal(t, "verdict.between_sizes", note["code"])
	assert.InDelta(t, 0.89435, note["params"].(map[string]any)["alternative_probability"], 1e-5)
	assert.NotContains(t, got, "outside")
}

func TestChoiceJSONHasNullsWhereThereIsNothing(t *testing.T) {
	outside, err := json.Marshal(choose(t, 150, 1, 30, ExampleStock()))
	require.NoError(t, err)
	assert.Contains(t, string(outside), `"width_mm":null,"verdict":"outside_stock","alternative_mm":190`)
	assert.Contains(t, string(outside), `"outside":"too_wide"`)
	clear, err := json.Marshal(choose(t, 125, 1, 20, ExampleStock()))
	require.NoError(t, err)
	assert.Contains(t, string(clear), `"width_mm":150,"verdict":"clear","alternative_mm":null`)
}

func TestChoiceSurvivesARecord(t *testing.T) {
	c := choose(t, 125, 4, 20, ExampleStock())
	b, err := json.Marshal(c)
	require.NoError(t, err)
	var back Choice
	require.NoError(t, json.Unmarshal(b, &back))
	assert.Equal(t, c.WidthMM, back.WidthMM)
	for i, n := range c.Notes {
		assert.Equal(t, n, back.Notes[i], "all that a sentence needs is in the record")
	}
}

func TestChoiceIsFreeOfBinaryDigits(t *testing.T) {
	c := choose(t, 125.1, 0, 19.9, ExampleStock())
	assert.Equal(t, 145.0, c.RequiredMM)
}

func TestHoldingProbabilityIsListedWhereAllModelsStateASupport(t *testing.T) {
	s := Stock{Models: []Model{
		{WidthMM: 150, SupportMM: 120, Qty: 1}, {WidthMM: 150, SupportMM: 140, Qty: 1},
		{WidthMM: 160, SupportMM: 130, Qty: 1}, {WidthMM: 160, Qty: 1},
	}}
	c := choose(t, 125, 1, 20, s)
	require.Len(t, c.Widths, 2)
	require.NotNil(t, c.Widths[0].Holding)
	assert.InDelta(t, c.Widths[0].Probability, *c.Widths[0].Holding, 1e-12,
		"140 holds 125 ± 1 as surely as 150 holds 145 ± 1 or more")
	assert.Nil(t, c.Widths[1].Holding)
}
