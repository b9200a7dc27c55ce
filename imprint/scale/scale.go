package scale

import (
	"math"

	"sitspan/calibration/gum"
	"sitspan/imprint/codes"
	"sitspan/imprint/homography"
	"sitspan/imprint/photo"
	"sitspan/imprint/spacing"
)

// Source says what turned pixels into millimetres.
type Source string

// The sources.
const (
	ByFrame      Source = "frame"
	ByResolution Source = "resolution" // of a flat scan
	ByCard       Source = "card"       // of ISO/IEC 7810 ID-1 size
	ByRule       Source = "rule"       // a millimetre rule or a printed millimetre scale
	ByHand       Source = "by hand"    // two points that a person set
)

// Scale is what gives a picture its millimetres.
type Scale interface {
	// Lines are its budget lines for the distance between what two pixels show, mm on the plane, which the
	// parallax magnifies.
	Lines(left, right homography.Pixel, mm, magnification float64) spacing.Budget
}

// Resolution is a scan's stated one.
type Resolution struct{ *photo.Density }

// scannerHalfWidth bounds how far a flatbed scanner's stated resolution may be off along either axis,
// relative: +- 0.5 %, rectangular (an assumption; no source seen).
const scannerHalfWidth = 0.005

// Lines is the budget line of a scan's stated resolution.
func (r Resolution) Lines(_, _ homography.Pixel, mm, _ float64) spacing.Budget {
	return spacing.Budget{spacing.Of(codes.ScanResolution, gum.Rectangular(scannerHalfWidth), mm,
		codes.ScanStated.With(r.X, r.Density.Source, 100*scannerHalfWidth))}
}

// What is assumed of a scale set by hand. No source.
const (
	clickU    = 1.5  // px, of an end of the scale
	divisionU = 0.3  // mm, of the distance that was typed: a steel rule's division, both ends
	handTilt  = 10.0 // deg, half-width of the camera's tilt, rectangular: nothing checks it
	handLens  = 0.01 // relative half-width of what a phone's lens does to the scale across the picture
)

// Set is a scale that a person set: two pixels and their distance.
type Set struct {
	Middle    homography.Pixel // between the two
	MM, PerPx float64          // distance in mm; mm per px
	// of the camera, mm, by the focal length and the scale, as if it looked straight down
	Height float64
}

// SetBy is the scale of two pixels so many mm apart on a photo, and the standard uncertainty of its height.
func SetBy(p *photo.Photo, a, b homography.Pixel, mm float64) (s Set, heightU float64) {
	s = Set{
		Middle: homography.Pixel{X: (a.X + b.X) / 2, Y: (a.Y + b.Y) / 2},
		MM:     mm,
		PerPx:  mm / a.Distance(b),
	}
	f, _ := FocalOf(p)
	s.Height = f.Pixels * s.PerPx
	return s, f.U * s.PerPx
}

// Lines are the budget lines of a scale set by hand.
func (s Set) Lines(left, right homography.Pixel, mm, magnification float64) spacing.Budget {
	c := homography.Pixel{X: (left.X + right.X) / 2, Y: (left.Y + right.Y) / 2}
	apart := c.Distance(s.Middle) * s.PerPx
	tilt := spacing.TiltU(handTilt, apart, s.Height)
	return spacing.Budget{
		spacing.Of(
			codes.ScaleEnds,
			clickU*math.Sqrt2,
			mm*magnification*s.PerPx/s.MM,
			codes.Clicks.With(clickU),
		),
		spacing.Of(codes.ScaleLength, divisionU, mm*magnification/s.MM, codes.Division.With()),
		spacing.Of(codes.CameraTilt, tilt, mm*magnification, codes.TiltByHand.With(handTilt, apart)),
		spacing.Of(
			codes.Lens,
			gum.Rectangular(handLens),
			mm*magnification,
			codes.Assumed.With(),
		).WithUnit(
			"1",
		),
	}
}
