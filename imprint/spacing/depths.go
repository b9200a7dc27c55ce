package spacing

import (
	"math"

	"sitspan/calibration"
	"sitspan/imprint/codes"
	"sitspan/imprint/homography"
)

// Depths are the depths of both bottoms below the pad's flat surface, mm, with their covariance.
type Depths struct {
	Left, Right float64
	Cov         homography.Covariance2
	Basis       codes.Said
	profile     string // the pad's name, where its profile is in them
}

// Gauge are depths by a depth gauge: none, one for both sides, or left and right, mm.
type Gauge struct {
	MM []float64
	U  float64 // standard uncertainty of each, mm; 0 means gaugeU
}

// gaugeU is the standard uncertainty in mm of a depth gauge's reading where nobody says (assumed).
const gaugeU = 1.0

// Depths are the gauge's, each side's error its own.
func (g Gauge) Depths() Depths {
	u := g.U
	if u == 0 {
		u = gaugeU
	}
	return Depths{
		Left: g.MM[0], Right: g.MM[len(g.MM)-1], Cov: homography.Covariance2{{u * u, 0}, {0, u * u}},
		Basis: codes.Gauge.With(u),
	}
}

// ShadingDepthU is the standard uncertainty in mm that all depths read from shading share: how far rendered
// foam may be from the counter's (an assumption; on photos kept apart the mean error was 0.8 mm).
const ShadingDepthU = 1.5

// DepthsFor finds the depths: by a gauge, else by the pad's profile sharpened by what the shading says.
func DepthsFor(g Gauge, pad calibration.Pad, left, right Seen) Depths {
	if len(g.MM) > 0 {
		return g.Depths()
	}
	prior := ProfileDepths(pad)
	if pad.DepthMM == 0 {
		return prior
	}
	c2 := ShadingDepthU * ShadingDepthU
	return prior.combine(
		left.Depth,
		right.Depth,
		homography.Covariance2{{left.VarDepth + c2, c2}, {c2, right.VarDepth + c2}},
	)
}

// ProfileDepths are the pad's: d + c + e/2 on the left, d + c - e/2 on the right.
func ProfileDepths(pad calibration.Pad) Depths {
	c, e := pad.DepthUCommon*pad.DepthUCommon, pad.DepthUDifference*pad.DepthUDifference/4
	return Depths{
		pad.DepthMM,
		pad.DepthMM,
		homography.Covariance2{{c + e, c - e}, {c - e, c + e}},
		codes.PadProfile.With(pad.Name),
		pad.Name,
	}
}

// Apart is how far the one side's depths lie apart that agree less well, in standard uncertainties of their
// difference; mm and other are its two depths.
func (d Depths) Apart(o Depths) (times, mm, other float64) {
	for side, both := range [2][2]float64{{d.Left, o.Left}, {d.Right, o.Right}} {
		u := math.Sqrt(d.Cov[side][side] + o.Cov[side][side])
		if t := math.Abs(both[0]-both[1]) / u; t >= times {
			times, mm, other = t, both[0], both[1]
		}
	}
	return times, mm, other
}

// combine weighs two estimates of both depths by their covariances (the mean of least variance).
func (d Depths) combine(left, right float64, cov homography.Covariance2) Depths {
	gain := product(d.Cov, inverse(d.Cov.Add(cov)))
	dl, dr := left-d.Left, right-d.Right
	out := d
	out.Left += gain[0][0]*dl + gain[0][1]*dr
	out.Right += gain[1][0]*dl + gain[1][1]*dr
	k := product(gain, d.Cov)
	for i := range 2 {
		for j := range 2 {
			out.Cov[i][j] = d.Cov[i][j] - (k[i][j]+k[j][i])/2
		}
	}
	out.Basis = codes.ShadingAndPad.With(d.profile)
	return out
}

func product(a, b homography.Covariance2) (c homography.Covariance2) {
	for i := range 2 {
		for j := range 2 {
			c[i][j] = a[i][0]*b[0][j] + a[i][1]*b[1][j]
		}
	}
	return c
}

func inverse(a homography.Covariance2) homography.Covariance2 {
	det := a[0][0]*a[1][1] - a[0][1]*a[1][0]
	return homography.Covariance2{{a[1][1] / det, -a[0][1] / det}, {-a[1][0] / det, a[0][0] / det}}
}

// Mean is the mean of both depths, mm.
func (d Depths) Mean() float64 { return (d.Left + d.Right) / 2 }

// Common is the standard uncertainty in mm of the mean of both depths.
func (d Depths) Common() float64 {
	return math.Sqrt(math.Max(0, (d.Cov[0][0]+2*d.Cov[0][1]+d.Cov[1][1])/4))
}

// Difference is right minus left, mm, and its standard uncertainty.
func (d Depths) Difference() (mm, u float64) {
	return d.Right - d.Left, math.Sqrt(math.Max(0, d.Cov[0][0]-2*d.Cov[0][1]+d.Cov[1][1]))
}

// Lines are the budget lines of depths with these sensitivities (mm of spacing per mm of each depth) and of
// the card between frame and pad: what both sides share, and what is left.
func (d Depths) Lines(byLeft, byRight float64, pad calibration.Pad) Budget {
	total := byLeft*byLeft*d.Cov[0][0] + 2*byLeft*byRight*d.Cov[0][1] + byRight*byRight*d.Cov[1][1]
	common := d.Common()
	if shared := math.Abs(byLeft+byRight) * common; shared*shared > total {
		common *= math.Sqrt(total) / shared // the sides' errors oppose each other: no more than all of it
	}
	rest := math.Sqrt(math.Max(0, total-math.Pow((byLeft+byRight)*common, 2)))
	return Budget{
		Of(codes.DentDepth, common, byLeft+byRight, d.Basis),
		Of(codes.DepthOfSides, rest, 1, d.Basis),
		Of(
			codes.CardThickness,
			pad.CardThicknessU,
			byLeft+byRight,
			codes.CardAndBuckle.With(pad.CardThickness),
		),
	}
}
