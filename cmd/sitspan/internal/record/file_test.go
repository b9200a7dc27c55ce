package record

import (
	"encoding/json"
	"math"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// kept are the records of each schema that was ever written. They must load
// for ever: never change or remove one, only add.
var kept = []string{
	"schema1-foam.json", "schema1-paper-review.json", "schema1-paper-reviewed.json", "schema1-refused.json",
	"schema2-relief.json", "schema1-scan.json",
}

func load(t testing.TB, name string) Record {
	t.Helper()
	rec, err := Load(filepath.Join("testdata", name))
	require.NoError(t, err)
	return rec
}

func TestKeptRecordsLoad(t *testing.T) {
	files, err := filepath.Glob("testdata/schema*.json")
	require.NoError(t, err)
	assert.Len(t, files, len(kept), "every kept record is in the list")
	for _, name := range kept {
		rec := load(t, name)
		assert.Equal(t, Schema, rec.Schema, "%s is a record of this schema once it is loaded", name)
		assert.NotEmpty(t, rec.Photos[0].SHA256, name)
	}
	rec := load(t, "schema1-foam.json")
	assert.Equal(t, 121.458, *rec.Measurement.Spacing)
	assert.Equal(t, 9, len(rec.Measurement.Budget))
	assert.Equal(t, 24.0, *rec.Measurement.Budget[0].DoF)
	assert.Equal(t, time.Date(2025, 11, 25, 8, 12, 44, 0, time.UTC), rec.MadeAt.UTC())
	assert.Equal(t, 15.0, rec.Measurement.Left.Depth)
	assert.Equal(t, "Зоя", load(t, "schema1-scan.json").Alias)
}

// What is written and read again is the same, for each kept record: nothing
// that a record holds gets lost between versions.
func TestSavedRecordIsTheSame(t *testing.T) {
	for _, name := range kept {
		rec := load(t, name)
		path, err := Save(t.TempDir(), rec.Name(), rec)
		require.NoError(t, err)
		again, err := Load(path)
		require.NoError(t, err)
		assert.Equal(t, asJSON(t, rec), asJSON(t, again), name)

		original, err := os.ReadFile(filepath.Join("testdata", name))
		require.NoError(t, err)
		var before, after any
		require.NoError(t, json.Unmarshal(original, &before))
		require.NoError(t, json.Unmarshal([]byte(asJSON(t, again)), &after))
		before.(map[string]any)["schema"] = float64(Schema)
		assert.Equal(
			t,
			before,
			without(after),
			"%s: every field that was there is there, and only codes are new",
			name,
		)
	}
}

// without takes off what schema 2 added.
func without(v any) any {
	switch v := v.(type) {
	case []any:
		for i := range v {
			v[i] = without(v[i])
		}
	case map[string]any:
		_, isLine := v["source"]
		for key := range v {
			if strings.HasSuffix(key, "_said") || key == "params" || key == "form" || key == "code" && isLine {
				delete(v, key)
				continue
			}
			v[key] = without(v[key])
		}
	}
	return v
}

func asJSON(t testing.TB, rec Record) string {
	t.Helper()
	b, err := json.Marshal(rec)
	require.NoError(t, err)
	return string(b)
}

func TestParseSaysWhatIsWrong(t *testing.T) {
	tests := []struct{ name, text, want string }{
		{"newer", `{"schema": 3}`, "schema is 3, this version reads up to 2: update sitspan"},
		{
			"none",
			`{"photo": "a.jpg", "status": "measured"}`,
			`it has no "schema"; give a file that measure --record wrote`,
		},
		{"zero", `{"schema": 0}`, "schema is 0, which no version wrote"},
		{"not JSON", "{\n\"schema\": 1,\n oops}", "not a record: line 3 is not JSON"},
		{"list", `[1]`, "it holds a JSON array, needed: an object"},
		{"type", "{\"schema\": 1,\n\"tool\": 7}", "line 2: tool is a number, needed: string"},
		{
			"status",
			`{"schema": 1, "measurement": {"status": "great"}}`,
			`status is "great", needed: one of measured, review, refused, failed`,
		},
		{
			"no spacing",
			`{"schema": 1, "measurement": {"status": "measured"}}`,
			"status is measured, but there is no spacing_mm",
		},
		{
			"refused with one",
			`{"schema": 1, "measurement": {"status": "refused", "spacing_mm": 120}}`,
			"status is refused, but there is a spacing_mm of 120",
		},
		{
			"no U",
			`{"schema": 1, "measurement": {"status": "review", "spacing_mm": 120, "coverage": 0.95}}`,
			"without expanded_uncertainty_mm",
		},
		{
			"U of 0",
			`{"schema": 1, "measurement": {"status": "review", "spacing_mm": 120, "expanded_uncertainty_mm": 0,` +
				` "coverage": 0.95}}`,
			"expanded_uncertainty_mm is 0, needed: above 0",
		},
		{
			"coverage",
			`{"schema": 1, "measurement": {"status": "review", "spacing_mm": 120, "expanded_uncertainty_mm": 2,` +
				` "coverage": 95}}`,
			"coverage is 95, needed: a probability",
		},
		{
			"negative spacing",
			`{"schema": 1, "measurement": {"status": "review", "spacing_mm": -1, "expanded_uncertainty_mm": 2,` +
				` "coverage": 0.95}}`,
			"spacing_mm is -1, needed: above 0",
		},
		{
			"negative u",
			`{"schema": 1, "measurement": {"status": "refused", "budget": [{"source": "lens", "u_mm": -1}]}}`,
			"budget line 1 (lens) has a negative uncertainty",
		},
		{
			"dof",
			`{"schema": 1, "measurement": {"status": "refused", "budget": [{"source": "lens", "u_mm": 1,` +
				` "dof": -3}]}}`,
			"budget line 1 (lens) has -3 degrees of freedom",
		},
		{
			"too large a number",
			`{"schema": 1, "measurement": {"status": "refused", "marks": 1e999}}`,
			"needed: whole number",
		},
		{
			"part",
			`{"schema": 1, "measurement": {"status": "refused", "sittings": [{"photo": "a.jpg", "status": "?"}]}}`,
			`part a.jpg: status is "?"`,
		},
		{
			"anonymous review",
			`{"schema": 1, "measurement": {"status": "refused"}, "reviews": [{"reviewer": " ",` +
				` "measurement": {"status": "refused"}}]}`,
			"review 1 names no reviewer",
		},
		{
			"bad review",
			`{"schema": 1, "measurement": {"status": "refused"}, "reviews": [{"reviewer": "A",` +
				` "measurement": {"status": "measured"}}]}`,
			"review 1: status is measured, but",
		},
	}
	for _, tt := range tests {
		t.Run(tt.name, func(t *testing.T) {
			_, err := Parse([]byte(tt.text))
			require.ErrorContains(t, err, tt.want)
			assert.NotContains(t, err.Error(), "\n", "one line")
		})
	}
	_, err := Parse([]byte(strings.Repeat(" ", maxFileBytes+1)))
	assert.ErrorContains(t, err, "longer than 16 MB")
	_, err = Load(filepath.Join(t.TempDir(), "none.json"))
	assert.ErrorIs(t, err, os.ErrNotExist)
}

func TestNothingThatIsNotFiniteIsWritten(t *testing.T) {
	dir := t.TempDir()
	nan, inf := math.NaN(), math.Inf(1)
	tests := []struct {
		want  string
		spoil func(*Record)
	}{
		{"measurement.spacing_mm is NaN", func(r *Record) { r.Measurement.Spacing = &nan }},
		{"measurement.budget[2].u_mm is +Inf", func(r *Record) { r.Measurement.Budget[2].U = inf }},
		{"measurement.left.cov_mm2[1] is NaN", func(r *Record) { r.Measurement.Left.Cov[1] = nan }},
		{"settings.depth_mm[0] is NaN", func(r *Record) { r.Settings.DepthMM[0] = nan }},
	}
	for _, tt := range tests {
		rec := load(t, "schema1-foam.json")
		tt.spoil(&rec)
		_, err := Save(dir, "x", rec)
		assert.ErrorContains(t, err, tt.want)
	}
	left, err := os.ReadDir(dir)
	require.NoError(t, err)
	assert.Empty(t, left, "nothing half-written stays behind")
}

func TestSaveLosesNothing(t *testing.T) {
	dir := filepath.Join(t.TempDir(), "records", "2025")
	reviewed, plain := load(t, "schema1-paper-reviewed.json"), load(t, "schema1-paper-review.json")

	path, err := Save(dir, "one", plain)
	require.NoError(t, err)
	_, err = Save(dir, "one", plain)
	require.NoError(t, err, "the same picture, measured again")
	_, err = Save(dir, "one", reviewed)
	require.NoError(t, err, "a review is added")
	_, err = Save(dir, "one", plain)
	assert.ErrorContains(t, err, "holds 1 review(s) that the new record lacks and is not overwritten")
	other := reviewed
	other.Reviews = []Revision{reviewed.Reviews[0]}
	other.Reviews[0].Note = "changed afterwards"
	_, err = Save(dir, "one", other)
	assert.ErrorContains(t, err, "not overwritten", "a review is never edited")
	_, err = Save(dir, "one", load(t, "schema1-foam.json"))
	assert.ErrorContains(t, err, "is the record of another picture")

	still, err := Load(path)
	require.NoError(t, err)
	assert.Equal(t, asJSON(t, reviewed), asJSON(t, still))

	require.NoError(t, os.WriteFile(filepath.Join(dir, "two.json"), []byte("a shopping list"), 0o644))
	_, err = Save(dir, "two", plain)
	assert.ErrorContains(t, err, "two.json is there and is not overwritten")
	files, err := os.ReadDir(dir)
	require.NoError(t, err)
	assert.Len(t, files, 2, "no temporary file stays")
}

func TestNames(t *testing.T) {
	rec := load(t, "schema1-foam.json")
	assert.Equal(t, "foam-window-d58ddd16", rec.Name())
	rec.Photos[0].Name = `C:\pictures\a:b?.JPG`
	assert.Equal(t, "C__pictures_a_b_-d58ddd16", rec.Name())
	rec.Photos[0].Name = "../.."
	rec.Photos[0].SHA256 = ""
	assert.Equal(t, "record", rec.Name())
	assert.Equal(t, "record", Record{}.Name())
	for _, name := range []string{"", "../up", "a/b", `a\b`, ".hidden", "a:b", "a\nb"} {
		_, err := Save(t.TempDir(), name, rec)
		assert.ErrorContains(t, err, "cannot be a file's", "%q", name)
	}
}

func TestCurrentIsTheLastReview(t *testing.T) {
	rec := load(t, "schema1-paper-reviewed.json")
	m, who := rec.Current()
	assert.Equal(t, "workshop 2", who)
	assert.Equal(t, Measured, m.Status)
	assert.Greater(t, *m.Spacing, *rec.Measurement.Spacing)
	m, who = load(t, "schema1-paper-review.json").Current()
	assert.Equal(t, "", who)
	assert.Equal(t, Review, m.Status)
}

// FuzzParse: whatever is read without an error can be written, read again, and
// is then the same; nothing panics.
func FuzzParse(f *testing.F) {
	for _, name := range kept {
		data, err := os.ReadFile(filepath.Join("testdata", name))
		require.NoError(f, err)
		f.Add(data)
	}
	f.Add([]byte(`{"schema": 1e0, "measurement": {"status": "refused"}}`))
	f.Add(
		[]byte(
			`{"schema": 1, "measurement": {"status": "failed", "width": {"a": [1, null]}},` +
				` "made_at": "0001-01-01T00:00:00Z"}`,
		),
	)
	f.Fuzz(func(t *testing.T, data []byte) {
		rec, err := Parse(data)
		if err != nil {
			assert.NotContains(t, err.Error(), "\n")
			return
		}
		require.NoError(t, rec.Check())
		first, err := json.Marshal(rec)
		require.NoError(t, err)
		again, err := Parse(first)
		require.NoError(t, err)
		second, err := json.Marshal(again)
		require.NoError(t, err)
		assert.Equal(t, string(first), string(second))
		require.NoError(t, checkName(rec.Name()), "a record's own name can be a file's")
	})
}
