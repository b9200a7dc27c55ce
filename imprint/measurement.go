package imprint

import (
	"image"

	"sitspan/calibration"
	"sitspan/imprint/codes"
	"sitspan/imprint/homography"
	"sitspan/imprint/judge"
	"sitspan/imprint/photo"
	"sitspan/imprint/scale"
	"sitspan/imprint/spacing"
)

// Status is the outcome of a measurement.
type Status = judge.Status

// The outcomes.
const (
	Measured = judge.Measured
	Review   = judge.Review
	Refused  = judge.Refused
)

// Coverage is the coverage probability of every expanded uncertainty here.
const Coverage = 0.95

// Plane is the frame's plane in the picture, and where the camera stood; Reference a card or a rule in its
// place.
type (
	Plane     = scale.Frame
	Mark      = scale.Mark
	Reference = scale.Reference
)

// Depression is one of the two deepest points, and what else is known of its dent.
type Depression struct {
	spacing.Bottom
	Pixel      homography.Pixel // of the upright picture
	Oblong     float64          // long axis over short axis
	OblongU    float64
	AxisDeg    float64 // direction of the long axis from x toward y, deg
	FlatRadius float64 // mm, of a dent that bottomed out; else 0
}

// Rejected is something in the picture that was looked at and not used.
type Rejected struct {
	Pixel homography.Pixel
	Why   codes.Said
}

// Quantity is a value with its standard uncertainty in the same unit.
type Quantity struct{ Value, U float64 }

// Part is one photo's share in a measurement of several, or one sitting's.
type Part struct {
	Measurement *Measurement
	Used        bool
	Why         codes.Said // why it was dropped
	Points      int        // of the pad that the photo shows, where the surface is by geometry; else 0
	Difference  float64    // from the joint spacing, mm
	Agreement   float64    // 1 at the edge of what chance explains at 95 %
}

// Measurement is what one photo, or several of one imprint, say.
type Measurement struct {
	judge.Verdict
	Medium      calibration.Medium // empty where it could not be told
	ScaleSource scale.Source       // empty without a scale

	Spacing       *spacing.Estimate // mm; nil when refused
	Left, Right   *Depression       // nil when not found
	UncorrectedMM float64           // the spacing on the frame's plane before the parallax correction
	Plane         *Plane            // nil without a frame
	PxPerMM       [2]float64        // of a scan without a frame
	Reference     *Reference        // a card or a rule that gave the scale; else nil

	// Masked are quadrilaterals in px of the upright picture that are to be painted over wherever the picture
	// is written or shown: the faces of cards.
	Masked [][4]homography.Pixel

	GroundSample  float64    // mm/px at the window's centre
	Marks         int        // coded marks used
	Yaw           *Quantity  // of the line of centres against the frame's front, deg
	DepthContrast *Quantity  // right minus left, mm
	Advice        codes.Said // what would shrink the largest line, and to what
	Rejected      []Rejected
	Parts         []Part // photos or sittings of a joint measurement
	OfSittings    bool   // Parts are sittings

	Relief *Relief // the surface, of several photos that show what can be recognised; else nil
	// mm, what the net reads of the same photos; nil where it reads nothing, or is the result itself
	Net *Quantity
	// NormalisedError is |Spacing - Net| over the root of both expanded uncertainties' squares (ISO/IEC
	// 17043:2023, E_n): beyond 1 they contradict each other, and the surface stands. 0 where there is no Net.
	NormalisedError float64
}

// Expanded is the expanded uncertainty U of the spacing in mm and its coverage factor; 0 when refused.
func (m *Measurement) Expanded() (u, k float64) {
	if m.Spacing == nil {
		return 0, 0
	}
	return m.Spacing.Budget.Expanded(Coverage)
}

// refuse gives the measurement up.
func (m *Measurement) refuse(r codes.Said) {
	m.Spacing = nil
	m.Refuse(r)
}

// findPlane looks for the frame in the picture and says what became of it.
func (m *Measurement) findPlane(p *photo.Photo, grey *image.Gray) (plane *Plane) {
	plane, m.Marks = scale.FindFrame(&m.Verdict, p, grey)
	if plane == nil {
		return nil
	}
	m.ScaleSource = scale.ByFrame
	m.GroundSample = plane.Fit.GroundSample(homography.PlanePoint{})
	for _, at := range plane.Misfits() {
		m.Rejected = append(m.Rejected, Rejected{at, codes.MarkMisfit.With()})
	}
	return plane
}

// nominal is a point of the plane as the print's millimetres make it.
func nominal(p homography.PlanePoint) calibration.Point { return calibration.Point{X: p.X, Y: p.Y} }
