package record

import (
	"os"
	"path/filepath"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"sitspan/imprint/codes"
)

// Records that schema 1 wrote of the bundled photos, of each kind: whatever they say has its code, with
// the numbers that stood in its sentence.
func TestOldRecordsGetTheirCodes(t *testing.T) {
	files, err := filepath.Glob("testdata/made/schema1-*.json")
	require.NoError(t, err)
	require.Greater(t, len(files), 8)
	for _, file := range files {
		rec, err := Load(file)
		require.NoError(t, err, file)
		m := rec.Measurement
		for _, r := range m.Reasons {
			e := codes.Find(r.Said())
			if assert.NotNil(t, e, "%s: %s", file, r.Message) {
				assert.Len(t, r.Params, len(e.Params), "%s: %s", file, r.Message)
			}
		}
		for _, w := range m.Warnings {
			e := codes.Find(w.Said())
			if assert.NotNil(t, e, "%s: %s", file, w.Message) {
				assert.Len(t, w.Params, len(e.Params), "%s: %s", file, w.Message)
			}
		}
		for _, l := range m.Budget {
			assert.NotNil(t, codes.LineOf(l.Code), "%s: %s", file, l.Source)
			assert.NotNil(t, codes.Find(l.BasisSaid), "%s: %s: %s", file, l.Source, l.Basis)
		}
		for _, d := range []*Dent{m.Left, m.Right} {
			if d != nil {
				assert.NotNil(t, codes.Find(d.BasisSaid), "%s: %s", file, d.Basis)
			}
		}
		for _, p := range append(m.Photos, m.Sittings...) {
			assert.Equal(t, p.Why == "", p.WhySaid.None(), "%s: %s", file, p.Why)
		}
		assert.Equal(t, m.Advice == "", m.AdviceSaid.None(), "%s: %s", file, m.Advice)
	}
}

// Sentences within sentences, and sentences that differ by what to do alone.
func TestOldSentencesAreRead(t *testing.T) {
	for _, c := range []struct {
		kind             codes.Kind
		code, text, hint string
		want             codes.Said
	}{
		{codes.Reason, "blur", "edges are blurred over 4.1 px (0.28 of a mark's module), and so 5 of 12 marks " +
			"were found, " +
			"fewer than two on the left side; 7 on all sides are needed", "",
			codes.BlurToBlame.With(4.1, 0.28, codes.FewMarksSide.With(5, 7, codes.LeftSide.With()))},
		{codes.Reason, "wide_interval", "the interval is ± 7.2 mm wide; ± 6 mm or less is needed",
			"let the rider sit once more, the same way each time", codes.WideSittings.With(7.2, 6)},
		{codes.Reason, "wide_interval", "the interval is ± 7.2 mm wide; ± 6 mm or less is needed",
			"take further photos with the lamp moved and measure them together", codes.WideInterval.With(7.2, 6)},
		{codes.Reason, "wide_interval", "the interval is ± 7.2 mm wide; ± 6 mm or less is needed",
			"from 1 m with the 2x camera the depth's share falls from 1.8 to 0.6 mm; a depth gauge (--depth) or " +
				"photos from either " +
				"side (--together) do as much", codes.WideAdvised.With(7.2, 6, codes.StepBack.With(1, 1.8, 0.6))},
		{codes.Warning, "frame_shadow", "in one of the photos or more the frame's own shadow reaches both dents: " +
			"it comes within " +
			"4 mm of where the centre was read; more than 10 mm is needed", "", codes.ShadowBothOfSome.With(4, 10)},
		{codes.Basis, "", "lines of sight, shading and pad profile (gel)", "",
			codes.LinesOfSight.With(codes.ShadingAndPad.With("gel"))},
		{codes.Basis, "", "3 photos read together: their errors are one; the reading's own standard uncertainty, " +
			"times 0.65 as " +
			"found on photos that it was not trained on", "", codes.ReadTogether.With(3,
			codes.ReadingsOwn.With(0.65))},
		{codes.Influence, "", "height of the camera (parallax)", "", codes.CameraPlace.With()},
	} {
		got, ok := read(c.kind, c.code, c.text, c.hint)
		require.True(t, ok, c.text)
		assert.Equal(t, c.want, got, c.text)
	}
	_, ok := read(codes.Reason, "no_dent", "what nobody ever said", "")
	assert.False(t, ok)
}

// What no version said stays as it stands, and a record of this schema is taken at its word.
func TestUnknownSentencesStay(t *testing.T) {
	data, err := os.ReadFile("testdata/schema1-foam.json")
	require.NoError(t, err)
	rec, err := Parse(data)
	require.NoError(t, err)
	assert.Equal(t, "left_centre", rec.Measurement.Budget[0].Code)
	assert.True(t, rec.Measurement.Budget[0].BasisSaid.None())
	assert.Equal(
		t,
		"covariance of the centre's regression, inflated by its misfit",
		rec.Measurement.Budget[0].Basis,
	)
	assert.Empty(t, rec.Measurement.Budget[3].Code, "print scale was said so once, by hand")
	now, err := Parse(
		[]byte(
			`{"schema": 2, "measurement": {"status": "refused", "budget": [{"source": "lens", "u_mm": 1}]}}`,
		),
	)
	require.NoError(t, err)
	assert.Empty(t, now.Measurement.Budget[0].Code)
	_, err = Parse([]byte(`{"schema": 3, "measurement": {"status": "refused"}}`))
	assert.ErrorContains(t, err, "update sitspan")
}
