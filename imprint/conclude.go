package imprint

import (
	"math"

	"sitspan/calibration"
	"sitspan/calibration/gum"
	"sitspan/imprint/codes"
	"sitspan/imprint/homography"
	"sitspan/imprint/relief"
	"sitspan/imprint/spacing"
)

// conclude works the spacing and its budget out of what one photo shows.
func (v *sight) conclude(s Settings) {
	if !v.read {
		return
	}
	m := v.m
	if v.camera() != nil && m.Medium == calibration.Foam {
		v.concludeFoam(s)
	} else {
		v.concludeFlat(s)
	}
	m.finish()
	m.judgeCentres()
}

// concludeAlone does so for a photo that no other of its imprint is measured with.
func (v *sight) concludeAlone(s Settings) {
	v.conclude(s)
	v.judgeShadow()
	v.crossCheck(s)
	v.askForAnother()
}

// judgeCentres sends to review whose relief or ink places the centres too loosely, though the interval is narrow enough: the
// next picture says more. Of centres set by hand the interval is judged alone.
func (m *Measurement) judgeCentres() {
	if m.Reference != nil || m.Status == Refused {
		return
	}
	u, k := m.Expanded()
	switch centres := k * m.centresU(); {
	case u > widestInterval: // judged so by finish
	case m.Medium == calibration.Foam && centres > widestReading:
		m.review(codes.FaintRelief.With(roundUp(centres), widestReading))
	case m.Medium == calibration.Paper && centres > widestInk:
		m.review(codes.VagueInk.With(roundUp(centres), widestInk))
	}
}

// finish adds what a fitter may want beside the spacing, and refuses what no one should use.
func (m *Measurement) finish() {
	l, q := m.Left.Point, m.Right.Point
	m.Yaw = &Quantity{
		Value: degrees(math.Atan2(q.Y-l.Y, q.X-l.X)),
		U:     degrees(math.Sqrt(m.Left.Covariance[1][1]+m.Right.Covariance[1][1]) / math.Max(1, m.Spacing.Value)),
	}
	if m.Spacing.Value < leastSpacing || m.Spacing.Value > mostSpacing {
		m.refuse(implausible(m.Spacing.Value))
		return
	}
	limit := widestInterval
	if m.Reference != nil {
		limit = widestBeside
	}
	u, k := m.Expanded()
	switch centres := k * m.centresU(); {
	case u <= limit:
	case m.Medium == calibration.Foam && centres > limit:
		m.review(codes.FaintRelief.With(roundUp(centres), limit))
	case m.Left.FlatRadius > 0 || m.Right.FlatRadius > 0:
		m.review(codes.BottomedOut.With(roundUp(u), limit))
	default:
		m.review(m.wideInterval(u, limit))
	}
}

// centresU is what the two readings alone add to the spacing's standard uncertainty, mm.
func (m *Measurement) centresU() float64 {
	return m.Spacing.Budget.Part(codes.LeftCentre, codes.RightCentre)
}

func degrees(rad float64) float64 { return rad * 180 / math.Pi }

// centreLines are the budget lines of the two readings: the net's variance of the distance, scaled by how much it has been
// seen to over- or understate, split between the sides as its variances along the line of centres are.
func (v *sight) centreLines(magnification float64) spacing.Budget {
	l, q := v.along()
	u := v.temper() * math.Sqrt(v.reading.VarSpacing)
	return spacing.Budget{
		spacing.Of(codes.LeftCentre, u*math.Sqrt(l/(l+q)), magnification, v.centreBasis()),
		spacing.Of(codes.RightCentre, u*math.Sqrt(q/(l+q)), magnification, v.centreBasis()),
	}
}

// along is the variance of either side's place along the line of centres, mm^2, by the reading's own word.
func (v *sight) along() (left, right float64) {
	r, d := v.reading, v.reading.Distance()
	cx, cy := (r.Right.At.X-r.Left.At.X)/d, (r.Right.At.Y-r.Left.At.Y)/d
	of := func(s relief.Side) float64 { return s.VarX*cx*cx + s.VarY*cy*cy }
	return of(r.Left), of(r.Right)
}

// inkInPhotos is the factor on the density model's own standard uncertainties in a photo: under a camera's light its errors
// were larger than it says (1.08 times over 26 photos that served for tuning). On scans they were smaller.
const inkInPhotos = 1.15

// temper is the factor on the reading's standard uncertainties: the net's, or the density model's, which states its own.
func (v *sight) temper() float64 {
	switch {
	case v.byInk && v.camera() != nil:
		return inkInPhotos
	case v.byInk:
		return 1
	case v.together:
		return temperTogether
	}
	return temper(v.m.Medium)
}

func (v *sight) centreBasis() codes.Said {
	switch {
	case v.byInk && v.camera() == nil:
		return codes.InkDensity.With()
	case v.byInk:
		return codes.InkInPhoto.With(inkInPhotos)
	}
	return codes.ReadingsOwn.With(v.temper())
}

// flatLines are the lines of dents that bottomed out: the deepest point is taken at the middle of the flat, and may lie
// anywhere on it, more likely near its middle (triangular, JCGM 100, 4.3.9).
func flatLines(radius [2]float64, magnification float64) (lines spacing.Budget) {
	for k, side := range []*codes.Line{codes.LeftFlatBottom, codes.RightFlatBottom} {
		if f := bottomed(radius[k]); f > 0 {
			lines = append(lines, spacing.Of(side, gum.Triangular(f), magnification, codes.FlatBottom.With(f)))
		}
	}
	return lines
}

// leastFlat is the radius in mm of the area within 0.3 mm of the deepest point beyond which a dent counts as bottomed out:
// rounded dents have 2 to 6 mm.
const leastFlat = 7.5

// bottomed is the radius of a flat that counts, mm, else 0.
func bottomed(radius float64) float64 {
	if radius < leastFlat {
		return 0
	}
	return radius
}

// temper is the factor on the net's standard uncertainties that makes them honest over the shapes that an imprint may have
// (docs/measurement-model.md).
func temper(m calibration.Medium) float64 {
	if m == calibration.Paper {
		return 0.95
	}
	return 0.8
}

// temperTogether likewise for photos of one imprint that were read together: on 40 triples seen before, their errors were 0.61 of
// what the net says.
const temperTogether = 0.65

// printLine is the budget line of the print's scale, for nominal places l and r.
func printLine(p calibration.Print, l, r homography.PlanePoint) spacing.Line {
	basis := codes.BarsMeasured
	if !p.Verified {
		basis = codes.BarsUnread
	}
	return spacing.Of(codes.PrintScale, p.LengthU(nominal(l), nominal(r)), 1, basis.With())
}

// fitLines are the budget lines of the frame's fit: its corners, the lens, and how flat the frame is.
func (m *Measurement) fitLines(magnification float64) (lines spacing.Budget) {
	f := m.Plane.Fit
	s, err := f.SpacingUncertainty(m.Left.Pixel, m.Right.Pixel)
	if err != nil {
		return nil
	}
	lines = append(lines,
		spacing.Of(codes.MarkCorners, s.Corners, magnification, codes.FrameFit.With(m.Marks)).WithDoF(f.DegreesOfFreedom),
		spacing.Of(codes.Lens, s.Lens, magnification, codes.LensOfMarks.With()))
	if c := m.Plane.Camera; c != nil {
		u, basis := m.Plane.Flat.U, codes.OffPlane
		if !m.Plane.Flat.Known {
			u, basis = flatnessU, codes.FlatAssumed
		}
		lines = append(lines, spacing.Of(codes.FrameFlatness, u, s.Millimetres/c.Height, basis.With()))
	}
	return lines
}

// flatnessU is the standard uncertainty in mm of the frame's height where too few marks tell it (assumed).
const flatnessU = 0.3

// concludeFlat is the spacing on a plane without depth: paper, photographed or scanned.
func (v *sight) concludeFlat(s Settings) {
	m, r := v.m, v.reading
	p := m.printOf(s)
	m.Left, m.Right = v.depression(r.Left, p), v.depression(r.Right, p)
	value := m.Left.Point.Distance(m.Right.Point)
	m.UncorrectedMM = value
	lines := v.centreLines(1)
	if m.Plane != nil {
		lines = append(lines, m.fitLines(1)...)
		lines = append(lines, printLine(p, m.Left.OnPlane, m.Right.OnPlane))
		v.warnPrint(p)
	} else {
		lines = append(lines, v.scaleLines(value, 1)...)
	}
	m.Spacing = &spacing.Estimate{Value: value, Budget: lines.Sorted()}
	m.DepthContrast = nil
}

// depression turns one side of a reading on the plane into a depression without depth.
func (v *sight) depression(s relief.Side, p calibration.Print) *Depression {
	t := v.temper()
	true_ := p.True(nominal(onPlane(s.At)))
	d := &Depression{
		Point: homography.PlanePoint(true_), OnPlane: onPlane(s.At), Pixel: v.toPixel(s.At),
		Covariance: homography.Covariance2{{t * t * s.VarX, 0}, {0, t * t * s.VarY}},
		DepthBasis: codes.NoDepth.With(),
	}
	d.shape(s)
	return d
}

// shape notes how oblong the dent is, and whether it bottomed out.
func (d *Depression) shape(s relief.Side) {
	ln := math.Hypot(s.Oblong[0], s.Oblong[1])
	d.Oblong, d.OblongU = math.Exp(ln), math.Exp(ln)*math.Sqrt(s.VarOblong)
	d.AxisDeg = degrees(math.Atan2(s.Oblong[1], s.Oblong[0]) / 2)
	d.FlatRadius = bottomed(s.Flat)
}

func (v *sight) warnPrint(p calibration.Print) {
	for _, w := range p.Warnings {
		v.m.warn(codes.OfPrint(string(w.Code)).With(w.Value))
	}
}
