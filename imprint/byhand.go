package imprint

import (
	"fmt"
	"math"

	"sitspan/calibration"
	"sitspan/imprint/codes"
	"sitspan/imprint/homography"
	"sitspan/imprint/judge"
	"sitspan/imprint/photo"
	"sitspan/imprint/scale"
	"sitspan/imprint/spacing"
)

const (
	reviewerCentreU = 2.0  // mm, of a centre set by hand where the reviewer does not say (assumed, no source)
	leastHandPx     = 50.0 // between the ends of a scale
)

// MeasureByHandScale measures a photo in which a person set a scale, two pixels a and b and their distance in
// mm, and both centres (left and right as the rider sat). reviewerU is the standard uncertainty in mm of a
// centre so set; 0 takes 2 mm. The result goes to review. It is an error where the scale is too short, in the
// picture or in mm, or a number is none.
func MeasureByHandScale(
	p *photo.Photo,
	s Settings,
	a, b homography.Pixel,
	mm float64,
	centres [2]homography.Pixel,
	reviewerU float64,
) (*Measurement, error) {
	if err := s.Check(); err != nil {
		return nil, err
	}
	if reviewerU == 0 {
		reviewerU = reviewerCentreU
	}
	px := a.Distance(b)
	switch {
	case !(mm >= 10 && mm <= 1000):
		return nil, fmt.Errorf(
			"the scale is %g mm long; 10 to 1000 mm is needed: take a longer piece of the rule",
			mm,
		)
	case !(px >= leastHandPx) || math.IsInf(px, 1):
		return nil, fmt.Errorf(
			"the ends of the scale lie %.0f px apart; %.0f px is needed: take a longer piece of the rule",
			px,
			leastHandPx,
		)
	case !(reviewerU > 0 && reviewerU <= 20):
		return nil, fmt.Errorf(
			"a centre's standard uncertainty of %g mm; above 0 and up to 20 mm is needed",
			reviewerU,
		)
	}
	set, heightU := scale.SetBy(p, a, b, mm)
	h := &hand{s, set, heightU, centres, reviewerU}
	m := &Measurement{
		Verdict:      judge.Verdict{Status: Measured},
		Medium:       s.Medium,
		ScaleSource:  scale.ByHand,
		GroundSample: set.PerPx,
	}
	if m.Medium == "" {
		m.Medium = calibration.Paper
	}
	m.PxPerMM = [2]float64{1 / set.PerPx, 1 / set.PerPx}
	m.UncorrectedMM = centres[0].Distance(centres[1]) * set.PerPx
	if !(m.UncorrectedMM > 0) || math.IsInf(m.UncorrectedMM, 1) {
		return nil, fmt.Errorf("the two centres do not lie apart; set them on the two deepest points")
	}
	h.conclude(m)
	return m, nil
}

// hand is what a person set.
type hand struct {
	settings Settings
	scale    scale.Set
	heightU  float64 // of the camera's height, mm
	centres  [2]homography.Pixel
	u        float64
}

func (h *hand) conclude(m *Measurement) {
	height, gain := h.scale.Height, 1.0
	var d spacing.Depths
	pad := h.settings.pad(m.Medium)
	if m.Medium == calibration.Foam {
		d = spacing.ProfileDepths(pad)
		if g := h.settings.gauge(); len(g.MM) > 0 {
			d = g.Depths()
		}
		gain = spacing.Gain(height, d.Mean())
	}
	seen, own := m.UncorrectedMM, codes.Reviewers.With()
	lines := spacing.Budget{
		spacing.Of(codes.LeftByHand, h.u, gain, own),
		spacing.Of(codes.RightByHand, h.u, gain, own),
	}
	lines = append(lines, h.scale.Lines(h.centres[0], h.centres[1], seen, gain)...)
	if gain > 1 {
		lines = append(lines,
			spacing.Of(codes.DentDepth, d.Common(), seen/height, d.Basis),
			spacing.Of(codes.CameraPlace, h.heightU, -seen*(gain-1)/height, codes.HeightByScale.With(height)))
	}
	m.Left, m.Right = h.depression(0, gain, d.Left), h.depression(1, gain, d.Right)
	m.Spacing = &spacing.Estimate{Value: seen * gain, Budget: lines.Sorted()}
	m.Review(codes.SetByHand.With())
	m.finish()
}

// depression is one centre in axes whose origin lies between the two, x from left to right.
func (h *hand) depression(side int, gain, depth float64) *Depression {
	half := h.centres[0].Distance(h.centres[1]) * h.scale.PerPx / 2
	if side == 0 {
		half = -half
	}
	return &Depression{Pixel: h.centres[side], Oblong: 1, Bottom: spacing.Bottom{
		Point: homography.PlanePoint{X: half * gain}, OnPlane: homography.PlanePoint{X: half}, Depth: depth,
		Covariance: homography.Covariance2{
			{h.u * h.u, 0},
			{0, h.u * h.u},
		}, DepthBasis: codes.DepthByHand.With(),
	}}
}
