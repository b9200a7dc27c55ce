package imprint

import (
	"context"
	"testing"

	"github.com/stretchr/testify/require"

	"sitspan/calibration"
	"sitspan/imprint/codes"
	"sitspan/imprint/photo"
	"sitspan/imprint/spacing"
)

// misread is a look at a bundled foam photo whose left centre the net has put off by some mm.
func misread(t *testing.T, m *Meter, name string, off float64) *sight {
	t.Helper()
	s := Settings{Medium: calibration.Foam}
	v, err := m.look(context.Background(), read(t, name), s)
	require.NoError(t, err)
	require.True(t, v.read)
	v.reading.Left.At.X += off
	v.conclude(s)
	return v
}

func TestADentThatBottomedOutHasItsLine(t *testing.T) {
	v := misread(t, meter(t), "foam-window.jpg", 0)
	require.Zero(t, v.m.Left.FlatRadius)
	before, _ := v.m.Expanded()
	v.m.Warnings = nil
	v.reading.Left.Flat = 12
	v.conclude(Settings{Medium: calibration.Foam})
	require.Equal(t, 12.0, v.m.Left.FlatRadius)
	var line spacing.Line
	for _, c := range v.m.Spacing.Budget {
		if c.Source == codes.LeftFlatBottom.Code {
			line = c
		}
	}
	// half the flat's width as a triangular half-width: a/sqrt(6) (JCGM 100, 4.3.9)
	require.InDelta(t, 12/2.449489742783178, line.Std, 1e-9)
	after, _ := v.m.Expanded()
	require.Greater(t, after, before)
	require.Contains(t, warned(v.m), "bottomed_out")
	require.InDelta(
		t,
		v.reading.Left.At.X,
		v.m.Left.OnPlane.X,
		1e-12,
		"the middle of the flat is what the reading says",
	)
}

// Every photo of a joint measurement says how far it agrees; two that contradict each other cannot tell which
// is odd.
func TestEachPhotoSaysHowItAgrees(t *testing.T) {
	m := meter(t)
	off := misread(t, m, "foam-window.jpg", 15)
	two := combined(t, []*sight{misread(t, m, "foam-window.jpg", 0), off}, Settings{Medium: calibration.Foam})
	require.Equal(t, Review, two.Status)
	require.Contains(t, codesOf(two), "photos_disagree")
	for _, p := range two.Parts {
		require.Greater(t, p.Agreement, 1.0)
	}
	same, err := m.MeasureTogether(
		context.Background(),
		[]*photo.Photo{read(t, "together/above.jpg"), read(t, "together/side-1.jpg")},
		Settings{Medium: calibration.Foam},
	)
	require.NoError(t, err)
	for _, p := range same.Parts {
		require.Less(t, p.Agreement, 1.0)
		require.True(t, p.Used)
	}
}

// What makes an interval too wide is named: a reading that is itself unsure, a flat bottom, or else the
// largest lines' advice.
func TestAWideIntervalNamesItsCause(t *testing.T) {
	for _, c := range []struct {
		name      string
		sd, flat  float64 // of the net's distance, and the left dent's flat radius, mm
		want, not string
	}{
		{"as it is", 0.8, 0, "", ""},
		{"unsure", 12, 0, "low_relief", "wide_interval"},
		{"unsure, and flat", 12, 20, "low_relief", "bottomed_out"},
		{"sure, and flat", 0.8, 20, "bottomed_out", "low_relief"},
	} {
		t.Run(c.name, func(t *testing.T) {
			v := misread(t, meter(t), "foam-window.jpg", 0)
			v.m.Reasons, v.m.Status = nil, Measured
			v.reading.VarSpacing, v.reading.Left.Flat = c.sd*c.sd, c.flat
			v.conclude(Settings{Medium: calibration.Foam, DepthMM: []float64{15, 15}})
			said := codesOf(v.m)
			if c.want == "" {
				require.Empty(t, said)
				return
			}
			require.Contains(t, said, c.want)
			require.NotContains(t, said, c.not)
			require.Equal(t, Review, v.m.Status)
		})
	}
}

// One imprint has one flat: photos joined say the same of it as one photo does.
func TestPhotosJoinedKeepTheFlatsLine(t *testing.T) {
	a, b := misread(t, meter(t), "foam-window.jpg", 0), misread(t, meter(t), "foam-window.jpg", 0)
	a.reading.Left.Flat, b.reading.Left.Flat = 11, 13
	a.reading.Right.Flat, b.reading.Right.Flat = 2, 2
	m := combined(t, []*sight{a, b}, Settings{Medium: calibration.Foam})
	var lines spacing.Budget
	for _, c := range m.Spacing.Budget {
		if c.Source == codes.LeftFlatBottom.Code || c.Source == codes.RightFlatBottom.Code {
			lines = append(lines, c)
		}
	}
	require.Len(t, lines, 1)
	require.Equal(t, codes.LeftFlatBottom.Code, lines[0].Source)
	require.InDelta(t, 12/2.449489742783178, lines[0].Std, 1e-9, "JCGM 100, 4.3.9")
	require.InDelta(t, 12, m.Left.FlatRadius, 1e-9)
	require.Zero(t, m.Right.FlatRadius)
}
