package spacing

import (
	"math"

	"sitspan/calibration"
	"sitspan/calibration/gum"
	"sitspan/imprint/codes"
	"sitspan/imprint/homography"
	"sitspan/imprint/judge"
)

// Picture is what moving a centre needs of a picture: how its pixels lie on a plane, where the camera stood,
// and how deep the dents are taken to be. With it a centre can be moved years later, without the photo.
type Picture struct {
	Plane  homography.Projective
	Camera *homography.Camera // nil for a scan
	Print  calibration.Print
	Pad    calibration.Pad // the card between frame and pad
	Depths Depths          // where no dent was found; zero on paper
	Scale  Scale
}

// Scale is what gave a picture its millimetres.
type Scale string

// The scales that a centre may be moved on.
const (
	ByFrame Scale = "frame"
	ByCard  Scale = "card"
	ByRule  Scale = "rule"
	ByScan  Scale = "resolution"
)

// Set is one side's centre as a measurement has it, and where a reviewer puts it.
type Set struct {
	Found *Bottom          // nil where no dent was found
	Was   homography.Pixel // where it was found
	Now   homography.Pixel
}

// DefaultU is the standard uncertainty in mm, in either direction, of a centre that a fitter sets with the
// magnifier: an assumption, no source. Two fitters who set the same centre differ by its root-two-fold, some
// 2 mm.
const DefaultU = 1.5

// The bounds of what a reviewer may say of a centre, mm.
const leastU, mostU = 0.2, 10.0

// Moved is a measurement with a reviewer's centres.
type Moved struct {
	Value         float64
	Seen          float64 // the distance on the plane, before the correction
	Left, Right   Bottom
	LeftMoved     bool
	RightMoved    bool
	Budget        Budget
	YawDeg, YawU  float64 // of the line of centres against the plane's x
	Magnification float64
}

// samePlace is the distance in px below which a centre was not moved: what a number loses on its way to a
// page and back.
const samePlace = 1e-6

// Move measures again with the centres where a reviewer put them. A centre that was left where it was keeps
// its reading and that one's uncertainty; what does not depend on who read it keeps its line, in proportion
// to the spacing. Was is the spacing before, nil where the picture gave none: then all lines are made anew.
//
// u is the standard uncertainty of a centre in mm, in either direction. The error is a *Fault.
func Move(p Picture, left, right Set, u float64, was *Estimate) (Moved, error) {
	if !(u >= leastU && u <= mostU) {
		return Moved{}, &Fault{"u", []any{u, leastU, mostU}}
	}
	var m Moved
	var err error
	if m.Left, m.LeftMoved, err = p.bottom(left, p.Depths.Left, p.Depths.Cov[0][0], u); err != nil {
		return m, err
	}
	if m.Right, m.RightMoved, err = p.bottom(right, p.Depths.Right, p.Depths.Cov[1][1], u); err != nil {
		return m, err
	}
	l, r := m.Left.Point, m.Right.Point
	if p.Scale == ByFrame && l.X >= r.X {
		return m, &Fault{Code: "exchanged"}
	}
	m.Value, m.Seen = l.Distance(r), m.Left.OnPlane.Distance(m.Right.OnPlane)
	if !Plausible(m.Value) {
		return m, &Fault{"apart", []any{m.Value, judge.LeastSpacing.Value, judge.MostSpacing.Value}}
	}
	m.YawDeg, m.YawU = Yaw(m.Left, m.Right)
	m.Budget = p.kept(m, was)
	if m.LeftMoved {
		m.Budget = append(m.Budget, Of(codes.LeftByHand, u, p.gain(m.Left.Depth), codes.ByMagnifier.With()))
	}
	if m.RightMoved {
		m.Budget = append(m.Budget, Of(codes.RightByHand, u, p.gain(m.Right.Depth), codes.ByMagnifier.With()))
	}
	return m, nil
}

// gain is what a length on the plane grows to at a bottom so deep below the pad's surface.
func (p Picture) gain(depth float64) float64 {
	if p.Camera == nil || depth == 0 {
		return 1
	}
	return Gain(p.Camera.Height, depth+p.Pad.CardThickness)
}

// bottom is a side's, where the reviewer put its centre.
func (p Picture) bottom(s Set, depth, varDepth, u float64) (b Bottom, moved bool, err error) {
	if s.Found != nil && s.Now.Distance(s.Was) < samePlace {
		return *s.Found, false, nil
	}
	seen, err := p.Plane.PlaneFromImage(s.Now)
	if err != nil {
		return b, false, &Fault{Code: "outside"}
	}
	basis := codes.PadUsual.With()
	if f := s.Found; f != nil {
		depth, varDepth, basis = f.Depth, f.DepthU*f.DepthU, f.DepthBasis
		// Reckoned from the measured centre, the lens's bending cancels.
		if from, err := p.Plane.PlaneFromImage(s.Was); err == nil {
			seen.X += f.OnPlane.X - from.X
			seen.Y += f.OnPlane.Y - from.Y
		}
	}
	at, c := seen, p.Camera
	if c == nil || depth == 0 {
		c = nil
	} else if at, _, err = Parallax(c, seen, depth+p.Pad.CardThickness); err != nil {
		return b, false, &Fault{Code: "outside"}
	}
	return bottom(
		seen,
		homography.Covariance2{{u * u, 0}, {0, u * u}},
		at,
		c,
		depth,
		varDepth,
		basis,
		p.Print,
	), true, nil
}

// kept are the lines that do not depend on who read the moved centres.
func (p Picture) kept(m Moved, was *Estimate) (b Budget) {
	if was == nil || len(was.Budget) == 0 {
		return p.anew(m)
	}
	for _, l := range was.Budget {
		if m.LeftMoved && codes.OfReading(l.Source, codes.Left) ||
			m.RightMoved && codes.OfReading(l.Source, codes.Right) {
			continue
		}
		l.Std, l.Unit, l.Sensitivity = l.Contribution(), "mm", m.Value/was.Value
		b = append(b, l)
	}
	return b
}

// What is assumed of a card or a rule that was found, but gave no spacing by itself (no source; as for a
// scale set by hand): the half-widths of the camera's tilt in degrees and of what the lens does to the scale
// across the picture, relative, and how far in mm the centres lie from the reference.
const (
	besideTilt = 10.0
	besideLens = 0.01
	besideFar  = 120.0
	besideNear = 400.0 // mm, the camera's height where none is known: near, so that a tilt tells most
)

// framePlaneU is the standard uncertainty in mm of the plane of a frame that gave no measurement (assumed).
const framePlaneU = 0.3

// anew are the lines of a picture that gave no spacing by itself: its scale's, and those of the parallax.
func (p Picture) anew(m Moved) Budget {
	var b Budget
	switch p.Scale {
	case ByCard, ByRule:
		fit := codes.CardFit
		if p.Scale == ByRule {
			fit = codes.RuleFit
		}
		height := besideNear
		if p.Camera != nil {
			height = p.Camera.Height
		}
		b = Budget{
			Of(fit, TiltU(besideTilt, besideFar, height)*m.Value, 1, codes.BesideAssumed.With(besideTilt)),
			Of(codes.Lens, gum.Rectangular(besideLens)*m.Value, 1, codes.Assumed.With()),
		}
	default:
		b = Budget{
			Of(
				codes.PrintScale,
				p.Print.LengthU(nominal(m.Left.OnPlane), nominal(m.Right.OnPlane)),
				1,
				codes.PrintAsBefore.With(),
			),
			Of(codes.FramePlane, framePlaneU, 1, codes.PlaneAssumed.With()),
		}
	}
	if p.Camera == nil || m.Left.Depth == 0 && m.Right.Depth == 0 {
		return b // nothing is deep
	}
	card := p.Pad.CardThickness
	below, err := Corrected(p.Camera, m.Left.OnPlane, m.Right.OnPlane, m.Left.Depth+card, m.Right.Depth+card)
	if err != nil {
		return b
	}
	d := p.Depths
	if d.Basis.None() {
		d.Basis = codes.PadUsual.With()
	}
	b = append(b, d.Lines(below.ByDepthLeft, below.ByDepthRight, p.Pad)...)
	return append(b, cameraLine(below, p.Camera))
}

// TiltU is the relative standard uncertainty of a length for a camera that nobody knows to be level: a tilt t
// shortens what lies along it by 1 - cos t, and changes the scale over a distance r along it by r sin(t) / H.
// The tilt's half-width is in degrees, rectangular; the distance from the scale and the height are in mm.
func TiltU(deg, apart, height float64) float64 {
	t := deg * math.Pi / 180
	return math.Hypot(gum.Rectangular(1-math.Cos(t)), gum.Rectangular(math.Sin(t)*apart/height))
}

// Yaw is the direction of the line of centres against the plane's x, with its standard uncertainty, degrees.
func Yaw(left, right Bottom) (deg, u float64) {
	l, r := left.Point, right.Point
	return math.Atan2(r.Y-l.Y, r.X-l.X) * 180 / math.Pi,
		math.Sqrt(left.Covariance[1][1]+right.Covariance[1][1]) / math.Max(1, l.Distance(r)) * 180 / math.Pi
}
