package spacing

import (
	"math"

	"sitspan/calibration"
	"sitspan/calibration/gum"
	"sitspan/imprint/codes"
	"sitspan/imprint/homography"
)

// Seen is where one bottom is seen on the plane by a reading, and how well by its own word.
type Seen struct {
	At         homography.PlanePoint // mm
	VarX, VarY float64               // mm^2
	Depth      float64               // mm below the pad's flat surface, by the shading
	VarDepth   float64               // mm^2
	Flat       float64               // radius in mm within 0.3 mm of the deepest point
}

// Reading is one reading of both bottoms.
type Reading struct {
	Left, Right Seen
	VarSpacing  float64 // of their distance, mm^2, by the reading's own word
	Temper      float64 // factor on its standard uncertainties, as its errors were found
	Basis       codes.Said
}

// Distance is that of the bottoms as they are seen on the plane, mm.
func (r Reading) Distance() float64 { return r.Left.At.Distance(r.Right.At) }

// Along is the variance of either side's place along the line of centres, mm^2, by the reading's own word.
func (r Reading) Along() (left, right float64) {
	d := r.Distance()
	cx, cy := (r.Right.At.X-r.Left.At.X)/d, (r.Right.At.Y-r.Left.At.Y)/d
	of := func(s Seen) float64 { return s.VarX*cx*cx + s.VarY*cy*cy }
	return of(r.Left), of(r.Right)
}

// shares are either side's part of the distance's standard uncertainty, mm: the reading's variance, tempered,
// split between the sides as their variances along the line of centres are.
func (r Reading) shares() (left, right float64) {
	l, q := r.Along()
	u := r.Temper * math.Sqrt(r.VarSpacing)
	return u * math.Sqrt(l/(l+q)), u * math.Sqrt(q/(l+q))
}

// Lines are the budget lines of the two readings.
func (r Reading) Lines(magnification float64) Budget {
	l, q := r.shares()
	return Budget{
		Of(codes.LeftCentre, l, magnification, r.Basis),
		Of(codes.RightCentre, q, magnification, r.Basis),
	}
}

// covariance is a side's, tempered, mm^2.
func (r Reading) covariance(s Seen) homography.Covariance2 {
	return homography.Covariance2{{r.Temper * r.Temper * s.VarX, 0}, {0, r.Temper * r.Temper * s.VarY}}
}

// LeastFlat is the radius in mm of the area within 0.3 mm of the deepest point beyond which a dent counts as
// bottomed out: rounded dents have 2 to 6 mm.
const LeastFlat = 7.5

// Bottomed is the radius of a flat that counts, mm, else 0.
func Bottomed(radius float64) float64 {
	if radius < LeastFlat {
		return 0
	}
	return radius
}

// flatLines are the lines of dents that bottomed out: the deepest point is taken at the middle of the flat,
// and may lie anywhere on it, more likely near its middle (triangular, JCGM 100, 4.3.9).
func flatLines(radius [2]float64, magnification float64) (lines Budget) {
	for k, side := range []*codes.Line{codes.LeftFlatBottom, codes.RightFlatBottom} {
		if f := Bottomed(radius[k]); f > 0 {
			lines = append(lines, Of(side, gum.Triangular(f), magnification, codes.FlatBottom.With(f)))
		}
	}
	return lines
}

// Bottom is one of the two deepest points.
type Bottom struct {
	Point      homography.PlanePoint  // true mm, parallax corrected
	OnPlane    homography.PlanePoint  // as seen on the plane, nominal mm
	Covariance homography.Covariance2 // of Point, mm^2, all influences but the print's scale
	Depth      float64                // below the pad's flat surface, mm
	DepthU     float64
	DepthBasis codes.Said
}

// Solution is a spacing in mm with what it is made of.
type Solution struct {
	Value         float64
	Left, Right   Bottom
	Seen          float64 // the distance on the plane, before the correction
	Magnification float64 // of a length on the plane
	Lines         Budget  // of all but the scale
	Flat          bool    // a dent bottomed out
	nominal       [2]homography.PlanePoint
}

// PrintLine is that of the print's scale.
func (s Solution) PrintLine(p calibration.Print) Line {
	return PrintLine(p, s.nominal[0], s.nominal[1])
}

// BelowPlane is the spacing of two bottoms below the plane that a camera sees: equation (1) on either side.
func BelowPlane(
	r Reading,
	c *homography.Camera,
	d Depths,
	pad calibration.Pad,
	p calibration.Print,
) (Solution, error) {
	below, err := Corrected(c, r.Left.At, r.Right.At, d.Left+pad.CardThickness, d.Right+pad.CardThickness)
	if err != nil {
		return Solution{}, err
	}
	s := Solution{Seen: r.Distance(), nominal: [2]homography.PlanePoint{below.Left, below.Right}}
	s.Left = bottom(r.Left.At, r.covariance(r.Left), below.Left, c, d.Left, d.Cov[0][0], d.Basis, p)
	s.Right = bottom(r.Right.At, r.covariance(r.Right), below.Right, c, d.Right, d.Cov[1][1], d.Basis, p)
	s.Magnification = below.Millimetres / s.Seen
	flat := flatLines([2]float64{r.Left.Flat, r.Right.Flat}, s.Magnification)
	s.Flat = len(flat) > 0
	s.Lines = append(r.Lines(s.Magnification), flat...)
	s.Lines = append(s.Lines, d.Lines(below.ByDepthLeft, below.ByDepthRight, pad)...)
	s.Lines = append(s.Lines, cameraLine(below, c))
	s.Value = s.Left.Point.Distance(s.Right.Point)
	return s, nil
}

func cameraLine(b Below, c *homography.Camera) Line {
	return Of(codes.CameraPlace, b.UCamera(), 1, codes.CameraHeight.With(c.Height, c.UHeight()))
}

// bottom is one side's, at a place of the print's own millimetres. Its covariance takes the depth's in.
func bottom(
	seen homography.PlanePoint,
	cov homography.Covariance2,
	at homography.PlanePoint,
	c *homography.Camera,
	depth, varDepth float64,
	basis codes.Said,
	p calibration.Print,
) Bottom {
	b := Bottom{
		Point:      truePoint(p, at),
		OnPlane:    seen,
		Covariance: cov,
		Depth:      depth,
		DepthU:     math.Sqrt(varDepth),
		DepthBasis: basis,
	}
	if c == nil {
		return b
	}
	if _, j, err := Parallax(c, seen, depth); err == nil {
		for i, a := range []float64{j.ByDepth.X, j.ByDepth.Y} {
			for k, q := range []float64{j.ByDepth.X, j.ByDepth.Y} {
				b.Covariance[i][k] = j.ByPoint*j.ByPoint*b.Covariance[i][k] + a*q*varDepth
			}
		}
	}
	return b
}

func truePoint(p calibration.Print, q homography.PlanePoint) homography.PlanePoint {
	return homography.PlanePoint(p.True(nominal(q)))
}

func nominal(p homography.PlanePoint) calibration.Point { return calibration.Point{X: p.X, Y: p.Y} }

// OnPlane is the spacing on a plane without depth: paper, photographed or scanned.
func OnPlane(r Reading, p calibration.Print) Solution {
	s := Solution{
		Magnification: 1,
		Lines:         r.Lines(1),
		nominal:       [2]homography.PlanePoint{r.Left.At, r.Right.At},
	}
	s.Left = bottom(r.Left.At, r.covariance(r.Left), r.Left.At, nil, 0, 0, codes.NoDepth.With(), p)
	s.Right = bottom(r.Right.At, r.covariance(r.Right), r.Right.At, nil, 0, 0, codes.NoDepth.With(), p)
	s.Value = s.Left.Point.Distance(s.Right.Point)
	s.Seen = s.Value
	return s
}

// PrintLine is the budget line of the print's scale, for places l and r in its own millimetres.
func PrintLine(p calibration.Print, l, r homography.PlanePoint) Line {
	basis := codes.BarsMeasured
	if !p.Verified {
		basis = codes.BarsUnread
	}
	return Of(codes.PrintScale, p.LengthU(nominal(l), nominal(r)), 1, basis.With())
}

// farther is the height in mm that the advice speaks of: arm's length and a step back, the long lens.
const farther = 1000.0

// worthAdvice is the share of U beyond which what the depths add to it is worth advice.
const worthAdvice = 0.05

// StepBack says what would shrink the depths' share of the budget, with the numbers now and then, where
// without it U would be smaller by a twentieth or more and a step back is possible; else nothing.
func StepBack(
	b Budget,
	left, right homography.PlanePoint,
	c *homography.Camera,
	d Depths,
	pad calibration.Pad,
) (advice codes.Said) {
	now, all := depthShare(b), b.Combined()
	if c.Height > 0.8*farther || math.Sqrt(math.Max(0, all*all-now*now)) > (1-worthAdvice)*all {
		return advice
	}
	then, err := shareFrom(farther, c, left, right, d, pad)
	if err != nil || then >= now {
		return advice
	}
	return codes.StepBack.With(farther/1000, now, then)
}

// depthShare is what the depths add to the spacing's standard uncertainty, mm.
func depthShare(b Budget) float64 {
	return b.Part(codes.DentDepth, codes.DepthOfSides, codes.CardThickness)
}

// shareFrom is that share for a camera so high above the window's middle, mm: the same bottoms, seen from
// there.
func shareFrom(
	height float64,
	c *homography.Camera,
	left, right homography.PlanePoint,
	d Depths,
	pad calibration.Pad,
) (float64, error) {
	up := *c
	up.Position, up.Height = homography.PlanePoint{}, height
	var seen [2]homography.PlanePoint
	deep := [2]float64{d.Left + pad.CardThickness, d.Right + pad.CardThickness}
	for k, bottom := range []homography.PlanePoint{left, right} {
		at, err := SeenAt(&up, bottom, deep[k])
		if err != nil {
			return 0, err
		}
		seen[k] = at
	}
	below, err := Corrected(&up, seen[0], seen[1], deep[0], deep[1])
	if err != nil {
		return 0, err
	}
	return depthShare(d.Lines(below.ByDepthLeft, below.ByDepthRight, pad)), nil
}
