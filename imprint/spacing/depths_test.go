package spacing

import (
	"math"
	"testing"

	"github.com/stretchr/testify/require"

	"sitspan/calibration"
	"sitspan/imprint/codes"
	"sitspan/imprint/homography"
)

func TestDepthsAreWeighed(t *testing.T) {
	seen := Seen{Depth: 17, VarDepth: 1}
	pad := calibration.FoamPad()
	d := DepthsFor(Gauge{}, pad, seen, seen)
	// by hand: common variance 16 against 1/2 + 1.5^2, so the mean moves by 16/(16+2.75) of 4 mm
	require.InDelta(t, 13+4*16/(16+2.75), d.Mean(), 0.02)
	require.Less(t, d.Cov[0][0], pad.DepthUCommon*pad.DepthUCommon)
	require.Equal(t, codes.ShadingAndPad.With("foam"), d.Basis)
	gauge := DepthsFor(Gauge{MM: []float64{11}, U: 0.5}, pad, seen, seen)
	require.Equal(t, 11.0, gauge.Right)
	require.InDelta(t, 0.25, gauge.Cov[1][1], 1e-12)
	require.Zero(t, gauge.Cov[0][1])
	require.InDelta(t, 1, Gauge{MM: []float64{11, 12}}.Depths().Cov[0][0], 1e-12, "1 mm where nobody says")
}

func TestBudgetLinesOfDepthAddUp(t *testing.T) {
	d := Depths{
		Left:  14,
		Right: 15,
		Cov:   homography.Covariance2{{4, 1}, {1, 3}},
		Basis: codes.PadUsual.With(),
	}
	a, b := 0.16, 0.21
	lines := d.Lines(a, b, calibration.Pad{})
	total := math.Pow(lines[0].Contribution(), 2) + math.Pow(lines[1].Contribution(), 2)
	require.InDelta(t, a*a*4+2*a*b*1+b*b*3, total, 1e-12)
}

// Straight above, both bottoms d deep, the spacing is X' (H + d)/H (equation (1)), so that a depth's u adds
// X u/(H + d) to it: worked out by hand for 300 mm and for 1 m.
func TestAdviceSaysWhatAStepBackBrings(t *testing.T) {
	const mm, d, u = 120.0, 14.0, 2.4
	c := &homography.Camera{Height: 300}
	left, right := homography.PlanePoint{X: -mm / 2}, homography.PlanePoint{X: mm / 2}
	b := Budget{
		Of(codes.DentDepth, u, mm/(300+d), codes.PadUsual.With()),
		Of(codes.LeftCentre, 1, 1, codes.PadUsual.With()),
	}
	deep := Depths{Left: d, Right: d, Cov: homography.Covariance2{{u * u, u * u}, {u * u, u * u}}}
	got := StepBack(b, left, right, c, deep, calibration.Pad{})
	require.True(t, codes.StepBack.Is(got))
	require.Equal(t, 1.0, got.Params["height"], "m")
	require.InDelta(t, mm*u/(300+d), got.Params["now"], 1e-9)
	require.InDelta(t, mm*u/(1000+d), got.Params["then"], 1e-9)
	b[1].Std = 3
	require.True(
		t,
		StepBack(b, left, right, c, deep, calibration.Pad{}).None(),
		"without the depths U would shrink by 4 % only",
	)
	b[1].Std = 1
	c.Height = 900
	require.True(t, StepBack(b, left, right, c, deep, calibration.Pad{}).None(), "that far already")
}
