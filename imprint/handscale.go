package imprint

import (
	"fmt"
	"math"

	"sitspan/calibration"
	"sitspan/calibration/gum"
	"sitspan/imprint/codes"
	"sitspan/imprint/homography"
	"sitspan/imprint/judge"
	"sitspan/imprint/photo"
	"sitspan/imprint/spacing"
)

// ByHand is the scale of two points set by hand.
const ByHand ScaleSource = "by hand"

// What is assumed of a scale set by hand. No source.
const (
	reviewerCentreU = 2.0  // mm, of a centre set by hand where the reviewer does not say
	clickU          = 1.5  // px, of an end of the scale
	divisionU       = 0.3  // mm, of the distance that was typed: a steel rule's division, both ends
	handTilt        = 10.0 // deg, half-width of the camera's tilt, rectangular: nothing checks it
	handLens        = 0.01 // relative half-width of what a phone's lens does to the scale across the picture
	leastHandPx     = 50.0
)

// MeasureByHandScale measures a photo in which a person set a scale, two pixels a and b and their distance in mm, and both
// centres (left and right as the rider sat). reviewerU is the standard uncertainty in mm of a centre so set; 0 takes 2 mm.
// The result goes to review. It is an error where the scale is too short, in the picture or in mm, or a number is none.
func MeasureByHandScale(p *photo.Photo, s Settings, a, b homography.Pixel, mm float64, centres [2]homography.Pixel, reviewerU float64) (*Measurement, error) {
	if err := s.Check(); err != nil {
		return nil, err
	}
	if reviewerU == 0 {
		reviewerU = reviewerCentreU
	}
	px := a.Distance(b)
	switch {
	case !(mm >= 10 && mm <= 1000):
		return nil, fmt.Errorf("the scale is %g mm long; 10 to 1000 mm is needed: take a longer piece of the rule", mm)
	case !(px >= leastHandPx) || math.IsInf(px, 1):
		return nil, fmt.Errorf("the ends of the scale lie %.0f px apart; %.0f px is needed: take a longer piece of the rule", px, leastHandPx)
	case !(reviewerU > 0 && reviewerU <= 20):
		return nil, fmt.Errorf("a centre's standard uncertainty of %g mm; above 0 and up to 20 mm is needed", reviewerU)
	}
	h := &hand{p, s, mm, mm / px, centres, homography.Pixel{X: (a.X + b.X) / 2, Y: (a.Y + b.Y) / 2}, reviewerU}
	m := &Measurement{Verdict: judge.Verdict{Status: Measured}, Medium: s.Medium, ScaleSource: ByHand, GroundSample: h.perPx}
	if m.Medium == "" {
		m.Medium = calibration.Paper
	}
	m.PxPerMM = [2]float64{1 / h.perPx, 1 / h.perPx}
	m.UncorrectedMM = centres[0].Distance(centres[1]) * h.perPx
	if !(m.UncorrectedMM > 0) || math.IsInf(m.UncorrectedMM, 1) {
		return nil, fmt.Errorf("the two centres do not lie apart; set them on the two deepest points")
	}
	h.conclude(m)
	return m, nil
}

// hand is what a person set.
type hand struct {
	photo     *photo.Photo
	settings  Settings
	mm, perPx float64 // of the scale; mm per px
	centres   [2]homography.Pixel
	middle    homography.Pixel // of the scale
	u         float64
}

// height is the camera's over the plane, mm, by the focal length and the scale, as if it looked straight down.
func (h *hand) height() (mm, u float64) {
	f, _ := focalOf(h.photo)
	return f.Pixels * h.perPx, f.U * h.perPx
}

func (h *hand) conclude(m *Measurement) {
	height, heightU := h.height()
	gain := 1.0
	var d spacing.Depths
	pad := h.settings.pad(m.Medium)
	if m.Medium == calibration.Foam {
		d = spacing.ProfileDepths(pad)
		if g := h.settings.gauge(); len(g.MM) > 0 {
			d = g.Depths()
		}
		gain = spacing.Gain(height, d.Mean())
	}
	seen := m.UncorrectedMM
	lines := h.lines(seen, gain, height)
	if gain > 1 {
		lines = append(lines,
			spacing.Of(codes.DentDepth, d.Common(), seen/height, d.Basis),
			spacing.Of(codes.CameraPlace, heightU, -seen*(gain-1)/height, codes.HeightByScale.With(height)))
	}
	m.Left, m.Right = h.depression(0, gain, d.Left), h.depression(1, gain, d.Right)
	m.Spacing = &spacing.Estimate{Value: seen * gain, Budget: lines.Sorted()}
	m.Review(codes.SetByHand.With())
	m.finish()
}

// lines are the budget of what was set by hand.
func (h *hand) lines(seen, gain, height float64) spacing.Budget {
	c := homography.Pixel{X: (h.centres[0].X + h.centres[1].X) / 2, Y: (h.centres[0].Y + h.centres[1].Y) / 2}
	apart := c.Distance(h.middle) * h.perPx
	tilt := spacing.TiltU(handTilt, apart, height)
	own := codes.Reviewers.With()
	return spacing.Budget{
		spacing.Of(codes.LeftByHand, h.u, gain, own),
		spacing.Of(codes.RightByHand, h.u, gain, own),
		spacing.Of(codes.ScaleEnds, clickU*math.Sqrt2, seen*gain*h.perPx/h.mm, codes.Clicks.With(clickU)),
		spacing.Of(codes.ScaleLength, divisionU, seen*gain/h.mm, codes.Division.With()),
		spacing.Of(codes.CameraTilt, tilt, seen*gain, codes.TiltByHand.With(handTilt, apart)),
		spacing.Of(codes.Lens, gum.Rectangular(handLens), seen*gain, codes.Assumed.With()).WithUnit("1"),
	}
}

// depression is one centre in axes whose origin lies between the two, x from left to right.
func (h *hand) depression(side int, gain, depth float64) *Depression {
	half := h.centres[0].Distance(h.centres[1]) * h.perPx / 2
	if side == 0 {
		half = -half
	}
	return &Depression{Pixel: h.centres[side], Oblong: 1, Bottom: spacing.Bottom{
		Point: homography.PlanePoint{X: half * gain}, OnPlane: homography.PlanePoint{X: half}, Depth: depth,
		Covariance: homography.Covariance2{{h.u * h.u, 0}, {0, h.u * h.u}}, DepthBasis: codes.DepthByHand.With(),
	}}
}
