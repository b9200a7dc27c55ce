package imprint

import (
	"context"
	"testing"

	"github.com/stretchr/testify/require"

	"sitspan/calibration"
	"sitspan/imprint/codes"
	"sitspan/imprint/homography"
	"sitspan/imprint/judge"
	"sitspan/imprint/relief"
)

// pair is a sight whose net sees two dents 120 mm apart, with these variances of x in mm^2.
func pair(m calibration.Medium, left, right float64) *sight {
	v := &sight{
		m:       &Measurement{Verdict: judge.Verdict{Status: Measured}, Medium: m},
		read:    true,
		toPixel: func(relief.Point) homography.Pixel { return homography.Pixel{} },
	}
	v.reading.Left = relief.Side{At: relief.Point{X: -60}, VarX: left, VarY: 1}
	v.reading.Right = relief.Side{At: relief.Point{X: 60}, VarX: right, VarY: 1}
	v.reading.Count = [4]float64{0, 0, 1, 0}
	return v
}

// A side whose standard uncertainty is more than mostUnlike times the other's is not taken for a dent without
// a look, even where the net counts two.
func TestOneClearDentBesideNothingIsReviewed(t *testing.T) {
	const clear = 1.0
	far := judge.MostUnlike.Value * judge.MostUnlike.Value
	for _, c := range []struct {
		name        string
		medium      calibration.Medium
		left, right float64
		codes       []string
	}{
		{"alike", calibration.Foam, 1.3, clear, nil},
		{"just alike enough", calibration.Foam, clear, far * 0.99, nil},
		{"the right unlike", calibration.Foam, clear, far * 1.01, []string{"one_dent"}},
		{"the left unlike", calibration.Foam, far * 1.01, clear, []string{"one_dent"}},
		{"paper, where the ink judges", calibration.Paper, clear, far * 1.01, nil},
	} {
		v := pair(c.medium, c.left, c.right)
		v.judgeReading(1)
		require.Equal(t, c.codes, codesOf(v.m), c.name)
		require.True(t, v.read, "%s: the number stays beside the reason", c.name)
	}
}

// Where even the clearer side is placed nowhere, no dent was found, however many the net counts; in a picture
// with hardly any contrast nobody knows, and light is what it lacks.
func TestWhatIsPlacedNowhereIsNoDent(t *testing.T) {
	lost, shows := judge.MostLost.Value*judge.MostLost.Value*1.01, judge.MostLost.Value*judge.MostLost.Value*0.99
	for _, c := range []struct {
		name        string
		medium      calibration.Medium
		left, right float64
		contrast    float64
		codes       []string
	}{
		{"nowhere", calibration.Foam, lost, 1.5 * lost, judge.LeastContrast.Value, []string{"no_dent"}},
		{"weak, but there", calibration.Foam, lost, shows, judge.LeastContrast.Value, nil},
		{"one weak dent beside nothing", calibration.Foam, shows, 6.3 * shows, judge.LeastContrast.Value,
			[]string{"one_dent"}},
		{"in the dark", calibration.Foam, lost, 1.5 * lost, judge.LeastContrast.Value * 0.99,
			[]string{"low_relief"}},
		{"paper, where the ink judges", calibration.Paper, lost, 1.5 * lost, judge.LeastContrast.Value, nil},
	} {
		v := pair(c.medium, c.left, c.right)
		v.judgeReading(c.contrast)
		require.Equal(t, c.codes, codesOf(v.m), c.name)
		require.True(t, v.read, "%s: the number stays beside the reason", c.name)
	}
	v := pair(calibration.Foam, lost, lost)
	v.reading.Count = [4]float64{0.3, 0.4, 0.2, 0.1}
	v.judgeReading(1)
	require.Equal(t, []string{"no_dent"}, codesOf(v.m), "one reason, not the count's doubt on top")
	require.InDelta(t, 7, v.m.Reasons[0].Params["within"], 0.5, "by hand: twice 3.5 mm")
}

// More photos of one dent do not make a second one: where most doubt, the joint number goes to review by
// their reason.
func TestPhotosThatDoubtAreDoubtedTogether(t *testing.T) {
	m := meter(t)
	p := read(t, "foam-window.jpg")
	look := func(doubting int) *Measurement {
		var all []*sight
		for i := range 3 {
			v, err := m.look(context.Background(), p, Settings{Medium: calibration.Foam})
			require.NoError(t, err)
			if i < doubting {
				v.m.Review(codes.OnlyOneClear.With(4))
			}
			v.conclude(Settings{Medium: calibration.Foam})
			all = append(all, v)
		}
		return combined(t, all, Settings{Medium: calibration.Foam})
	}
	require.Equal(t, Measured, look(1).Status)
	two := look(2)
	require.Equal(t, Review, two.Status)
	require.Equal(t, []string{"one_dent"}, codesOf(two))
	require.NotNil(t, two.Spacing)
}

// A single picture that leaves the centres looser than its medium's limit is not yet good enough, however
// narrow the rest; the depth of the dents, which a better lamp does not tell, has its own limit.
func TestLooselyPlacedCentresAreReviewed(t *testing.T) {
	m := meter(t)
	for _, c := range []struct {
		photo  string
		medium calibration.Medium
		own    float64 // mm, the reading's own standard uncertainty of the spacing
		depth  float64 // mm, of a gauge
		status Status
		codes  []string
	}{
		{"foam-window.jpg", calibration.Foam, 1.7, 1, Measured, nil},
		{"foam-window.jpg", calibration.Foam, 1.9, 1, Review, []string{"low_relief"}},
		{"foam-window.jpg", calibration.Foam, 3.5, 1, Review, []string{"low_relief"}},
		{"foam-window.jpg", calibration.Foam, 1.0, 30, Review, []string{"wide_interval"}},
		{"paper-1.jpg", calibration.Paper, 1.6, 0, Measured, nil},
		{"paper-1.jpg", calibration.Paper, 1.9, 0, Review, []string{"wide_interval"}},
		{"paper-1.jpg", calibration.Paper, 3.5, 0, Review, []string{"wide_interval"}},
	} {
		s := Settings{Medium: c.medium}
		if c.depth > 0 {
			s.DepthMM, s.DepthU = []float64{12, 12}, c.depth
		}
		v, err := m.look(context.Background(), read(t, c.photo), s)
		require.NoError(t, err)
		v.reading.VarSpacing = c.own * c.own
		v.conclude(s)
		require.Equal(t, c.status, v.m.Status, "%v", c)
		require.Equal(t, c.codes, codesOf(v.m), "%v", c)
	}
}

// A number beyond a limit is not written as the limit itself.
func TestWhatExceedsALimitReadsSo(t *testing.T) {
	wide := (&Measurement{}).wideInterval(6.01, 6)
	require.Equal(t, 6.1, wide.Params["u"])
	require.Equal(t, 6.0, wide.Params["limit"])
	require.Equal(t, 2.6, inkDisagrees(120, 124, 2.501).Params["times"])
}

// Nor are several photos of one imprint good enough that, together, still place the centres looser than that.
func TestLooselyPlacedCentresOfSeveralPhotosAreReviewed(t *testing.T) {
	for _, c := range []struct {
		own    float64 // mm, each reading's own standard uncertainty of the spacing
		status Status
		codes  []string
	}{
		{2.1, Measured, nil},
		{2.6, Review, []string{"low_relief"}},
	} {
		a, b := misread(t, meter(t), "foam-window.jpg", 0), misread(t, meter(t), "foam-window.jpg", 0)
		for _, v := range []*sight{a, b} {
			v.m.Reasons, v.m.Status = nil, Measured
			v.reading.VarSpacing = c.own * c.own
		}
		m := combined(t, []*sight{a, b}, Settings{Medium: calibration.Foam, DepthMM: []float64{15, 15}})
		require.Equal(t, c.status, m.Status, "%v", c)
		require.Equal(t, c.codes, codesOf(m), "%v", c)
		u, _ := m.Expanded()
		require.Less(t, u, judge.WidestInterval.Value, "it is the centres' own limit that speaks")
	}
}

// A reason is given once: a flat relief that also places the centres loosely is one and the same fault.
func TestAReasonIsGivenOnce(t *testing.T) {
	m := &Measurement{Verdict: judge.Verdict{Status: Measured}}
	m.Review(codes.LowRelief.With(0.9))
	m.Review(codes.FaintRelief.With(12.0, 6.0))
	m.Review(codes.OneDent.With())
	require.Equal(t, []string{"low_relief", "one_dent"}, codesOf(m))
	require.Equal(t, codes.LowRelief.Key(), m.Reasons[0].Key(), "the first one's words")
	require.Equal(t, Review, m.Status)
}
