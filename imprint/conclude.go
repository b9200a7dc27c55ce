package imprint

import (
	"fmt"
	"math"

	"sitspan/calibration"
	"sitspan/calibration/gum"
	"sitspan/imprint/homography"
	"sitspan/imprint/relief"
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
		m.review(faintRelief(centres, widestReading))
	case m.Medium == calibration.Paper && centres > widestInk:
		m.review(vagueInk(centres, widestInk))
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
		m.review(faintRelief(centres, limit))
	case m.Left.FlatRadius > 0 || m.Right.FlatRadius > 0:
		m.review(bottomedOut(u, limit))
	default:
		advice := m.Advice
		if advice == "" && m.Medium == calibration.Paper {
			advice = freshSheet
		}
		m.review(wideInterval(u, limit, advice))
	}
}

// centresU is what the two readings alone add to the spacing's standard uncertainty, mm.
func (m *Measurement) centresU() (u float64) {
	for _, c := range m.Spacing.Budget {
		if c.Source == leftCentre || c.Source == rightCentre {
			u = math.Hypot(u, c.Contribution())
		}
	}
	return u
}

func degrees(rad float64) float64 { return rad * 180 / math.Pi }

// The budget lines of the two readings.
const (
	leftCentre  = "left centre"
	rightCentre = "right centre"
)

// centreLines are the budget lines of the two readings: the net's variance of the distance, scaled by how much it has been
// seen to over- or understate, split between the sides as its variances along the line of centres are.
func (v *sight) centreLines(magnification float64) []gum.Component {
	l, q := v.along()
	u := v.temper() * math.Sqrt(v.reading.VarSpacing)
	line := func(name string, share float64) gum.Component {
		return gum.Component{Source: name, Std: u * math.Sqrt(share), Unit: "mm", Sensitivity: magnification,
			Basis: v.centreBasis()}
	}
	return []gum.Component{line(leftCentre, l/(l+q)), line(rightCentre, q/(l+q))}
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

func (v *sight) centreBasis() string {
	const ink = "the density of the ink: what is possible over four families of marks with the grain as it is"
	switch {
	case v.byInk && v.camera() == nil:
		return ink
	case v.byInk:
		return fmt.Sprintf(ink+", times %.2f in photos", inkInPhotos)
	}
	return fmt.Sprintf("the reading's own standard uncertainty, times %.2f as found on photos that it was not trained on", v.temper())
}

// flatLines are the lines of dents that bottomed out: the deepest point is taken at the middle of the flat, and may lie
// anywhere on it, more likely near its middle (triangular, JCGM 100, 4.3.9).
func flatLines(radius [2]float64, magnification float64) (lines []gum.Component) {
	for k, name := range []string{"left", "right"} {
		if f := bottomed(radius[k]); f > 0 {
			lines = append(lines, gum.Component{Source: "flat bottom of the " + name + " dent", Std: gum.Triangular(f), Unit: "mm", Sensitivity: magnification,
				Basis: fmt.Sprintf("the pad bottomed out over a radius of %.0f mm; triangular", f)})
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
func printLine(p calibration.Print, l, r homography.PlanePoint) gum.Component {
	basis := "check bars measured with a steel rule"
	if !p.Verified {
		basis = "print never measured, assumed true to scale"
	}
	return gum.Component{Source: "scale of the print", Std: p.LengthU(nominal(l), nominal(r)), Unit: "mm", Sensitivity: 1, Basis: basis}
}

// fitLines are the budget lines of the frame's fit: its corners, the lens, and how flat the frame is.
func (m *Measurement) fitLines(magnification float64) (lines []gum.Component) {
	f := m.Plane.Fit
	s, err := f.SpacingUncertainty(m.Left.Pixel, m.Right.Pixel)
	if err != nil {
		return nil
	}
	lines = append(lines,
		gum.Component{Source: "corners of the marks", Std: s.Corners, Unit: "mm", Sensitivity: magnification, DoF: f.DegreesOfFreedom, Basis: fmt.Sprintf("covariance of the frame's fit to %d marks", m.Marks)},
		gum.Component{Source: "lens", Std: s.Lens, Unit: "mm", Sensitivity: magnification, Basis: "distortion estimated from the marks under a phone's prior"})
	if c := m.Plane.Camera; c != nil {
		u, basis := m.Plane.Flat.U, "residuals of the marks off one plane"
		if !m.Plane.Flat.Known {
			u, basis = 0.3, "too few marks to tell; assumed"
		}
		lines = append(lines, gum.Component{Source: "flatness of the frame", Std: u, Unit: "mm", Sensitivity: s.Millimetres / c.Height, Basis: basis})
	}
	return lines
}

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
	m.Spacing = &gum.Estimate{Value: value, Budget: gum.Budget(lines).Sorted()}
	m.DepthContrast = nil
}

// depression turns one side of a reading on the plane into a depression without depth.
func (v *sight) depression(s relief.Side, p calibration.Print) *Depression {
	t := v.temper()
	true_ := p.True(nominal(onPlane(s.At)))
	d := &Depression{
		Point: homography.PlanePoint(true_), OnPlane: onPlane(s.At), Pixel: v.toPixel(s.At),
		Covariance: homography.Covariance2{{t * t * s.VarX, 0}, {0, t * t * s.VarY}},
		DepthBasis: "paper has no depth",
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
		v.m.warn("print", w.Message, w.Remedy)
	}
}
