package imprint

import (
	"math"

	"sitspan/calibration"
	"sitspan/imprint/codes"
	"sitspan/imprint/homography"
	"sitspan/imprint/relief"
	"sitspan/imprint/spacing"
)

// depths are the depths of both bottoms below the pad's flat surface, mm, with their covariance.
type depths struct {
	left, right float64
	cov         homography.Covariance2
	basis       codes.Said
	profile     string // the pad's name, where its profile is in them
}

// shadingDepthU is the standard uncertainty in mm that all depths read from shading share: how far rendered foam may be
// from the counter's (an assumption; on photos kept apart the mean error was 0.8 mm).
const shadingDepthU = 1.5

// depthsFor finds the depths: by a gauge, else by the pad's profile sharpened by what the shading says.
func depthsFor(s Settings, pad calibration.Pad, r relief.Reading) depths {
	if len(s.DepthMM) > 0 {
		u := s.DepthU
		if u == 0 {
			u = 1
		}
		return depths{s.DepthMM[0], s.DepthMM[len(s.DepthMM)-1], homography.Covariance2{{u * u, 0}, {0, u * u}},
			codes.Gauge.With(u), ""}
	}
	prior := profileDepths(pad)
	if pad.DepthMM == 0 {
		return prior
	}
	c2 := shadingDepthU * shadingDepthU
	return prior.combine(r.Left.Depth, r.Right.Depth, homography.Covariance2{{r.Left.VarDepth + c2, c2}, {c2, r.Right.VarDepth + c2}})
}

// profileDepths are the pad's: d + c + e/2 on the left, d + c - e/2 on the right.
func profileDepths(pad calibration.Pad) depths {
	c, e := pad.DepthUCommon*pad.DepthUCommon, pad.DepthUDifference*pad.DepthUDifference/4
	return depths{pad.DepthMM, pad.DepthMM, homography.Covariance2{{c + e, c - e}, {c - e, c + e}}, codes.PadProfile.With(pad.Name), pad.Name}
}

// combine weighs two estimates of both depths by their covariances (the mean of least variance).
func (d depths) combine(left, right float64, cov homography.Covariance2) depths {
	gain := product(d.cov, inverse(d.cov.Add(cov)))
	dl, dr := left-d.left, right-d.right
	out := d
	out.left += gain[0][0]*dl + gain[0][1]*dr
	out.right += gain[1][0]*dl + gain[1][1]*dr
	k := product(gain, d.cov)
	for i := range 2 {
		for j := range 2 {
			out.cov[i][j] = d.cov[i][j] - (k[i][j]+k[j][i])/2
		}
	}
	out.basis = codes.ShadingAndPad.With(d.profile)
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

// lines are the budget lines of depths with these sensitivities (mm of spacing per mm of each depth) and card: what both
// sides share, and what is left.
func (d depths) lines(byLeft, byRight float64, pad calibration.Pad) spacing.Budget {
	total := byLeft*byLeft*d.cov[0][0] + 2*byLeft*byRight*d.cov[0][1] + byRight*byRight*d.cov[1][1]
	common := math.Sqrt(math.Max(0, (d.cov[0][0]+2*d.cov[0][1]+d.cov[1][1])/4))
	if shared := math.Abs(byLeft+byRight) * common; shared*shared > total {
		common *= math.Sqrt(total) / shared // the sides' errors oppose each other: no more than all of it
	}
	rest := math.Sqrt(math.Max(0, total-math.Pow((byLeft+byRight)*common, 2)))
	return spacing.Budget{
		spacing.Of(codes.DentDepth, common, byLeft+byRight, d.basis),
		spacing.Of(codes.DepthOfSides, rest, 1, d.basis),
		spacing.Of(codes.CardThickness, pad.CardThicknessU, byLeft+byRight, codes.CardAndBuckle.With(pad.CardThickness)),
	}
}

// concludeFoam is the spacing of two bottoms below the frame's plane: equation (1) on either side, with its budget.
func (v *sight) concludeFoam(s Settings) {
	m, r, p, pad := v.m, v.reading, v.m.printOf(s), s.pad(v.m.Medium)
	d := depthsFor(s, pad, r)
	c := v.camera()
	if m.Reference != nil {
		pad.CardThickness, pad.CardThicknessU = 0, 0 // no frame's card lies between
	}
	below, err := homography.SpacingCorrected(c, onPlane(r.Left.At), onPlane(r.Right.At), d.left+pad.CardThickness, d.right+pad.CardThickness)
	if err != nil {
		m.refuse(implausible(r.Distance()))
		return
	}
	m.Left, m.Right = v.bottom(r.Left, below.Left, d.left, d.cov[0][0], d.basis, p), v.bottom(r.Right, below.Right, d.right, d.cov[1][1], d.basis, p)
	m.UncorrectedMM = r.Distance()
	mag := below.Millimetres / m.UncorrectedMM
	flat := flatLines([2]float64{r.Left.Flat, r.Right.Flat}, mag)
	lines := append(v.centreLines(mag), flat...)
	lines = append(lines, d.lines(below.ByDepthLeft, below.ByDepthRight, pad)...)
	lines = append(lines, spacing.Of(codes.CameraPlace, below.UCamera(), 1, codes.CameraHeight.With(c.Height, c.UHeight())))
	if m.Plane != nil {
		lines = append(lines, m.fitLines(mag)...)
		lines = append(lines, printLine(p, below.Left, below.Right))
		v.warnPrint(p)
	} else {
		lines = append(lines, v.scaleLines(m.UncorrectedMM, mag)...)
	}
	m.Spacing = &spacing.Estimate{Value: m.Left.Point.Distance(m.Right.Point), Budget: lines.Sorted()}
	m.DepthContrast = &Quantity{d.right - d.left, math.Sqrt(math.Max(0, d.cov[0][0]-2*d.cov[0][1]+d.cov[1][1]))}
	m.Advice = adviceOn(m, c, d, pad)
	if len(flat) > 0 {
		m.warn(codes.DentBottomedOut.With())
	}
}

// bottom is one side's depression, corrected for parallax and the print's scale.
func (v *sight) bottom(s relief.Side, at homography.PlanePoint, depth, varDepth float64, basis codes.Said, p calibration.Print) *Depression {
	d := v.depression(s, p)
	d.Point = homography.PlanePoint(p.True(nominal(at)))
	d.Depth, d.DepthU, d.DepthBasis = depth, math.Sqrt(varDepth), basis
	if _, j, err := homography.Parallax(v.camera(), onPlane(s.At), depth); err == nil {
		g := homography.PlanePoint(j.ByDepth)
		for i, a := range []float64{g.X, g.Y} {
			for k, b := range []float64{g.X, g.Y} {
				d.Covariance[i][k] = j.ByPoint*j.ByPoint*d.Covariance[i][k] + a*b*varDepth
			}
		}
	}
	d.shape(s)
	return d
}

// farther is the height in mm that the advice speaks of: arm's length and a step back, the long lens.
const farther = 1000.0

// worthAdvice is the share of U beyond which what the depths add to it is worth advice.
const worthAdvice = 0.05

// adviceOn says what would shrink the depths' share of the budget, with the numbers now and then, where without it U would be
// smaller by a twentieth or more and a step back is possible.
func adviceOn(m *Measurement, c *homography.Camera, d depths, pad calibration.Pad) (advice codes.Said) {
	now := depthShare(m.Spacing.Budget)
	all := m.Spacing.Budget.Combined()
	if c.Height > 0.8*farther || math.Sqrt(math.Max(0, all*all-now*now)) > (1-worthAdvice)*all {
		return advice
	}
	then, err := shareFrom(farther, c, m, d, pad)
	if err != nil || then >= now {
		return advice
	}
	return codes.StepBack.With(farther/1000, now, then)
}

// depthShare is what the depths add to the spacing's standard uncertainty, mm.
func depthShare(b spacing.Budget) float64 {
	return b.Part(codes.DentDepth, codes.DepthOfSides, codes.CardThickness)
}

// shareFrom is that share for a camera so high above the window's middle, mm: the same bottoms, seen from there.
func shareFrom(height float64, c *homography.Camera, m *Measurement, d depths, pad calibration.Pad) (float64, error) {
	up := *c
	up.Position, up.Height = homography.PlanePoint{}, height
	var seen [2]homography.PlanePoint
	deep := [2]float64{d.left + pad.CardThickness, d.right + pad.CardThickness}
	for k, side := range []*Depression{m.Left, m.Right} {
		at, err := homography.SeenAt(&up, side.Point, deep[k])
		if err != nil {
			return 0, err
		}
		seen[k] = at
	}
	below, err := homography.SpacingCorrected(&up, seen[0], seen[1], deep[0], deep[1])
	if err != nil {
		return 0, err
	}
	return depthShare(d.lines(below.ByDepthLeft, below.ByDepthRight, pad)), nil
}
