package judge

import (
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"sitspan/imprint/codes"
)

func TestEveryBoundSaysWhatItRestsOn(t *testing.T) {
	require.Greater(t, len(Table()), 25)
	seen := map[string]bool{}
	for _, b := range Table() {
		assert.Positive(t, b.Value, b.Name)
		assert.NotEmpty(t, b.Basis, b.Name)
		assert.NotEmpty(t, b.Set, b.Name)
		_, err := time.Parse(time.DateOnly, b.Since)
		assert.NoError(t, err, b.Name)
		assert.False(t, seen[b.Name], "%s is there twice", b.Name)
		seen[b.Name] = true
	}
}

// The bounds that a measurement's outcome hangs on, as docs/measurement-model.md and the manuals give them.
func TestBoundsAreAsTheDocsSay(t *testing.T) {
	for b, want := range map[*Bound]float64{
		LeastSpacing: 70, MostSpacing: 190, WidestInterval: 6, WidestReading: 3.6, HopelessReading: 12,
		WidestInk: 4, WidestBeside: 4,
		WantedMarks: 7, MostLost: 3.5, MostUnlike: 2.5,
	} {
		assert.Equal(t, want, b.Value, b.Name)
	}
}

// A refused measurement stays refused; a reason is given once, a refusal always.
func TestVerdicts(t *testing.T) {
	v := Verdict{Status: Measured}
	v.Warn(codes.RuleTilt.With(2.0))
	v.WarnOnce(codes.RuleTilt.With(3.0))
	assert.Len(t, v.Warnings, 1)
	v.Review(codes.LowRelief.With(0.9))
	v.Review(codes.FaintRelief.With(12.0, 6.0))
	assert.Equal(t, Review, v.Status)
	require.Len(t, v.Reasons, 1)
	v.Refuse(codes.NoDent.With())
	v.Review(codes.OneDent.With())
	assert.Equal(t, Refused, v.Status, "looking does not bring it back")
	assert.Len(t, v.Reasons, 3)
	v.Anew()
	assert.Equal(t, Verdict{Status: Measured, Warnings: v.Warnings}, v)
}
