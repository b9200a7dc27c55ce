package record

import (
	"path/filepath"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// Records as they were written hold together; one number changed by hand does
// not. What the number should be is worked out from the rest of the record.
func TestContradiction(t *testing.T) {
	names, err := filepath.Glob("testdata/schema*-*.json")
	require.NoError(t, err)
	require.NotEmpty(t, names)
	for _, name := range names {
		rec, err := Load(name)
		require.NoError(t, err)
		assert.NoError(t, rec.Contradiction(), name)
	}
	rec, err := Load("testdata/schema1-paper-reviewed.json")
	require.NoError(t, err)
	other := func(v float64) *float64 { return &v }
	edits := []struct {
		name, want string
		edit       func(*Record)
	}{
		{
			"spacing",
			"the spacing is 105.0 mm, its centres are 99.6 mm apart",
			func(r *Record) { r.Measurement.Spacing = other(105) },
		},
		{
			"interval",
			"the expanded uncertainty is 0.50 mm, its budget gives 1.86 mm",
			func(r *Record) { r.Measurement.U = other(0.5) },
		},
		{"centre", "its centres are", func(r *Record) { r.Measurement.LeftMM = &[2]float64{-60, 0} }},
		{
			"review",
			"review 1: the spacing is 105.0 mm",
			func(r *Record) { r.Reviews[0].Measurement.Spacing = other(105) },
		},
	}
	for _, e := range edits {
		rec, err := Load("testdata/schema1-paper-reviewed.json")
		require.NoError(t, err)
		e.edit(&rec)
		assert.ErrorContains(t, rec.Contradiction(), e.want, e.name)
	}
	rec.Measurement.Spacing, rec.Measurement.Sittings = other(105), []Part{{Photo: "b.jpg", Status: Measured}}
	assert.NoError(t, rec.Contradiction(), "the mean of sittings is not between the centres of one")
	rec.Measurement = Measurement{Status: Refused}
	assert.NoError(t, rec.Contradiction(), "no number, nothing to contradict")
}
