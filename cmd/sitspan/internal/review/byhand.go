package review

import (
	"errors"
	"fmt"
	"math"

	"sitspan/calibration/gum"
	"sitspan/cmd/sitspan/internal/record"
)

// Scale is two points of known distance in a picture.
type Scale struct {
	A, B   [2]float64 // px of the upright picture
	MM     float64    // between them
	U      float64    // standard uncertainty of MM; 0 takes 0.3 mm, a steel rule's division
	Source string     // what it was read off: rule, or another word of record's scale_source
}

// ByHand is a picture without a frame: a person says where the centres are and
// what the scale is.
type ByHand struct {
	Photo    string
	Medium   string // foam or paper
	Scale    Scale
	Centres  Centres
	HeightMM float64 // of the camera above the imprint; 0 takes 500 mm with u 150 mm
	DepthMM  float64 // of the dents; on paper 0
	DepthU   float64
}

// What is assumed of a photo that nothing checks: how far the camera was
// tilted, and how exactly a point can be clicked. No source.
const (
	tiltDeg         = 10.0  // half-width of the camera's tilt, rectangular
	clickPx         = 1.5   // standard uncertainty of an end of the scale
	assumedHeight   = 500.0 // mm
	assumedHeightU  = 150.0 // mm
	ruleU           = 0.3   // mm
	leastScalePx    = 50.0  // a shorter scale says too little
	leastMM, mostMM = 10.0, 1000.0
)

// Measure gives the spacing with a budget that says how little checks it. Its
// status is review: another person should look, and a photo with the frame is
// better.
func (h ByHand) Measure() (record.Measurement, error) {
	s, c := h.Scale, h.Centres
	px := math.Hypot(s.A[0]-s.B[0], s.A[1]-s.B[1])
	switch {
	case !(s.MM >= leastMM && s.MM <= mostMM):
		return record.Measurement{}, fmt.Errorf("the scale is %g mm long; %g to %g mm is needed", s.MM, leastMM, mostMM)
	case !(px >= leastScalePx):
		return record.Measurement{}, errors.New("the two ends of the scale lie too close together in the picture: take a longer piece of the rule")
	case h.Medium != "foam" && h.Medium != "paper":
		return record.Measurement{}, fmt.Errorf("the imprint's medium is %q; foam or paper is needed", h.Medium)
	}
	if s.U == 0 {
		s.U = ruleU
	}
	if c.U == 0 {
		c.U = DefaultU
	}
	perPx := s.MM / px
	seen := math.Hypot(c.Left[0]-c.Right[0], c.Left[1]-c.Right[1]) * perPx
	height, heightU, depth, depthU := h.assumed()
	gain := (height + depth) / height
	spacing := seen * gain
	if !(spacing >= leastSpacing && spacing <= mostSpacing) {
		return record.Measurement{}, fmt.Errorf("the centres lie %.0f mm apart; %.0f to %.0f mm is needed: set them on the two sit bones, and check the scale's length", spacing, leastSpacing, mostSpacing)
	}
	b := h.budget(spacing, seen, gain, perPx, s, c)
	if depth > 0 {
		b = append(b,
			line("depth of the dents (parallax)", depthU, seen/height, "assumed, or a gauge's"),
			line("height of the camera (parallax)", heightU, seen*depth/(height*height), fmt.Sprintf("%.0f mm, assumed or stated", height)))
	}
	return h.conclude(spacing, seen, perPx, b), nil
}

// assumed are the heights and depths in mm.
func (h ByHand) assumed() (height, heightU, depth, depthU float64) {
	height, heightU = h.HeightMM, 0.1*h.HeightMM
	if height == 0 {
		height, heightU = assumedHeight, assumedHeightU
	}
	if h.Medium == "foam" {
		depth, depthU = h.DepthMM, h.DepthU
	}
	return height, heightU, depth, depthU
}

func line(source string, std, sensitivity float64, basis string) gum.Component {
	return gum.Component{Source: source, Std: std, Unit: "mm", Sensitivity: sensitivity, DoF: math.Inf(1), Basis: basis}
}

func (h ByHand) budget(spacing, seen, gain, perPx float64, s Scale, c Centres) gum.Budget {
	height, _, _, _ := h.assumed()
	apart := math.Hypot((s.A[0]+s.B[0]-c.Left[0]-c.Right[0])/2, (s.A[1]+s.B[1]-c.Left[1]-c.Right[1])/2) * perPx
	// A tilt t shortens what lies along it by 1 - cos t, and changes the scale
	// over a distance r toward it by r sin(t) / H.
	t := tiltDeg * math.Pi / 180
	tilt := math.Hypot(gum.Rectangular(1-math.Cos(t)), gum.Rectangular(math.Sin(t)*apart/height))
	end := clickPx * perPx
	return gum.Budget{
		line("left centre, set by hand", c.U, gain, "the reviewer's own"),
		line("right centre, set by hand", c.U, gain, "the reviewer's own"),
		line("ends of the scale", end*math.Sqrt2, spacing/s.MM, fmt.Sprintf("clicked within %.1f px each", clickPx)),
		line("length of the scale", s.U, spacing/s.MM, "its division"),
		{Source: "tilt of the camera", Std: tilt, Unit: "1", Sensitivity: spacing, DoF: math.Inf(1), Basis: fmt.Sprintf("up to %.0f degrees, nothing checks it (assumed)", tiltDeg)},
	}
}

func (h ByHand) conclude(spacing, seen, perPx float64, b gum.Budget) record.Measurement {
	const coverage = 0.95
	U, k := b.Expanded(coverage)
	l, r := h.Centres.Left, h.Centres.Right
	return record.Measurement{
		Photo: h.Photo, Status: record.Review, Medium: h.Medium, ScaleSource: h.Scale.Source,
		Reasons: []record.Reason{{Code: "by_hand", Message: "the scale and the centres were set by hand: no frame checks the camera's tilt and height",
			Hint: "take a photo with the printed frame where you can"}},
		Spacing: &spacing, U: &U, Coverage: coverage, CoverageFactor: &k, UncorrectedMM: &seen,
		LeftPx: &l, RightPx: &r, GroundSample: &perPx, Budget: lines(b),
	}
}
