package record

import (
	"bytes"
	"encoding/json"
	"math"
	"os"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"
)

func TestAReliefIsKeptWhole(t *testing.T) {
	r := load(t, "schema2-relief.json").Relief()
	require.NotNil(t, r)
	assert.Equal(t, []int{107, 69}, []int{r.Columns, r.Rows})
	depths, u := r.Depths(), r.Uncertainties()
	require.Len(t, depths, 107*69)
	require.Len(t, u, 107*69)
	assert.Equal(t, float64(r.Z[3800])/100, depths[3800])
	assert.True(t, math.IsNaN(u[0]), "unknown at the corner")
	assert.Equal(t, r.Z, Hundredths(depths))
	assert.Equal(t, r.U, Hundredths(u))
	assert.Nil(t, load(t, "schema1-foam.json").Relief())
}

// 7383 depths of a foam pad and as many uncertainties take less than 60 kB, as
// one line and as a file.
func TestAReliefIsCompact(t *testing.T) {
	rec := load(t, "schema2-relief.json")
	line, err := json.Marshal(rec.Relief())
	require.NoError(t, err)
	assert.Less(t, len(line), 60_000)
	path, err := Save(t.TempDir(), "relief", rec)
	require.NoError(t, err)
	file, err := os.ReadFile(path)
	require.NoError(t, err)
	assert.Less(t, len(file), 65_000, "with the rest of the record")
	for l := range strings.Lines(string(file)) {
		assert.LessOrEqual(t, len(l), 170)
	}
}

// A reviewer's measurement without a relief does not hide the automatic one's.
func TestAReviewKeepsTheRelief(t *testing.T) {
	rec := load(t, "schema2-relief.json")
	m := rec.Measurement
	m.Relief = nil
	rec.Reviews = []Revision{{Reviewer: "A", Measurement: m}}
	assert.Same(t, rec.Measurement.Relief, rec.Relief())
	own := *rec.Measurement.Relief
	rec.Reviews[0].Measurement.Relief = &own
	assert.Same(t, &own, rec.Relief())
}

func TestAReliefsCheckSaysWhatIsWrong(t *testing.T) {
	negative := -0.1
	tests := []struct {
		want  string
		spoil func(*Relief)
	}{
		{"step_mm is 0", func(r *Relief) { r.StepMM = 0 }},
		{"its grid is 2140 mm wide", func(r *Relief) { r.StepMM = 20 }},
		{"1 columns and 69 rows", func(r *Relief) { r.Columns = 1 }},
		{"columns and 2 rows", func(r *Relief) { r.Columns, r.Rows = math.MaxInt, 2 }},
		{"z_hundredths has 7382 values, needed: 7383", func(r *Relief) { r.Z = r.Z[1:] }},
		{"u_hundredths has 7382 values, needed: 7383 or none", func(r *Relief) { r.U = r.U[1:] }},
		{"z_hundredths[5] is 20001", func(r *Relief) { r.Z[5] = 20001 }},
		{"u_hundredths[6] is -2", func(r *Relief) { r.U[6] = -2 }},
		{`by is "stars", needed: dots or grain`, func(r *Relief) { r.By = "stars" }},
		{"-1 dots", func(r *Relief) { r.Dots = -1 }},
		{"9999 of them between", func(r *Relief) { r.Between = 9999 }},
		{"photos_used names photo 0", func(r *Relief) { r.PhotosUsed = []int{0} }},
		{"lines_of_sight_deg is 181", func(r *Relief) { r.LinesOfSight = 181 }},
		{"roughness_mm is -0.1", func(r *Relief) { r.Roughness = negative }},
		{"left_radius_mm is -0.1", func(r *Relief) { r.LeftRadius = &negative }},
		{"withheld_dots_ratio is -0.1", func(r *Relief) { r.WithheldDotsRatio = &negative }},
	}
	for _, tt := range tests {
		rec := load(t, "schema2-relief.json")
		tt.spoil(rec.Measurement.Relief)
		_, err := Save(t.TempDir(), "x", rec)
		assert.ErrorContains(t, err, tt.want)
	}
	rec := load(t, "schema2-relief.json")
	rec.Measurement.Relief.U = nil
	require.NoError(t, rec.Check(), "no uncertainty is known")
	assert.True(t, math.IsNaN(rec.Relief().Uncertainties()[7382]))
	nan := math.NaN()
	rec.Measurement.Relief.NetSpacing = &nan
	assert.ErrorContains(t, rec.Check(), "measurement.relief.net_spacing_mm is NaN")
}

// What is indented says the same, whatever strings and lists it holds.
func TestIndentedSaysTheSame(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		v := map[string]any{
			"numbers": rapid.SliceOf(rapid.Float64()).Draw(t, "numbers"),
			"whole":   rapid.SliceOfN(rapid.Int(), 0, 300).Draw(t, "whole"),
			"text":    rapid.SliceOf(rapid.String()).Draw(t, "text"),
			"lists":   rapid.SliceOf(rapid.SliceOf(rapid.IntRange(-9, 9))).Draw(t, "lists"),
			"bait":    "[\n  1,\n  2\n]",
		}
		plain, err := json.Marshal(v)
		if err != nil {
			t.Fatal(err)
		}
		set, err := indented(v)
		if err != nil {
			t.Fatal(err)
		}
		var again bytes.Buffer
		if err := json.Compact(&again, set); err != nil || again.String() != string(plain) {
			t.Fatalf("%v: %s instead of %s", err, again.String(), plain)
		}
	})
	set, err := indented(map[string]any{"mm": []float64{-1.5, 2}, "of": []string{"a"}})
	require.NoError(t, err)
	assert.Equal(t, "{\n  \"mm\": [-1.5,2],\n  \"of\": [\n    \"a\"\n  ]\n}", string(set))
}
