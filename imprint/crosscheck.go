package imprint

import (
	"math"

	"sitspan/calibration"
	"sitspan/imprint/codes"
	"sitspan/imprint/judge"
	"sitspan/imprint/reading"
	"sitspan/imprint/relief"
)

// crossCheck holds the reading of a single foam photo against the shading model, equation (2) of
// docs/measurement-model.md. Where they disagree by more than their uncertainties it goes to review with both
// numbers, and the overlay shows where the shading puts the centres. They are never averaged: on photos with
// known truth that gained nothing. A fit that did not settle says nothing. Beside a card or a rule the photo
// is in review anyway, and the light on a frame's white is missing.
func (v *sight) crossCheck(s Settings) {
	m := v.m
	if m.Spacing == nil || m.Medium != calibration.Foam || m.Plane == nil || m.Plane.Camera == nil {
		return
	}
	fit, err := relief.FitShading(v.window, v.shadingStart(s))
	if err != nil || !fit.Converged {
		return
	}
	view := reading.ViewOf(m.Plane.Camera)
	d := fit.Against(v.reading, temper(m.Medium)*math.Sqrt(v.reading.VarSpacing), view)
	if d.Ratio <= judge.ReadingsApart.Value {
		return
	}
	mag := m.Spacing.Value / d.Net // both corrected for parallax alike
	m.Review(readingsDisagree(d.Net*mag, d.Physics*mag, d.U*mag))
	seen := fit.Seen(view)
	for _, p := range []relief.Point{seen.Left, seen.Right} {
		m.Rejected = append(m.Rejected, Rejected{v.toPixel(p), codes.ShadingHere.With()})
	}
}

// shadingStart is where the shading model's search begins: the net's centres, and the depths that their
// parallax was corrected with, the card's thickness on top. The search wants a dent to begin with, and not a
// certain one.
func (v *sight) shadingStart(s Settings) relief.ShadingStart {
	const leastDepth, leastU = 2.0, 0.3 // mm
	card := s.pad(v.m.Medium).CardThickness
	start := relief.ShadingStart{Left: v.reading.Left.At, Right: v.reading.Right.At}
	for k, d := range []*Depression{v.m.Left, v.m.Right} {
		start.Depth[k] = math.Max(leastDepth, d.Depth) + card
		start.UDepth[k] = math.Max(leastU, d.DepthU)
	}
	return start
}

func readingsDisagree(net, physics, u float64) codes.Said {
	return codes.ShadingDisagrees.With(net, physics, math.Abs(net-physics)/u, judge.ReadingsApart.Value)
}
