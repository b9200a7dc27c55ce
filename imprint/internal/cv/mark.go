package cv

import (
	"math"

	"sitspan/imprint/homography"
)

// Pixel is a position in the full-size upright picture, in px; integers are
// pixel centres.
type Pixel = homography.Pixel

// Mark is one coded mark of the control frame as seen in a picture.
type Mark struct {
	// ID is the mark's number in the control frame's geometry.
	ID int
	// Corners are the outer corners of the black square in px, in the mark's
	// own order: top left, top right, bottom right, bottom left as printed.
	Corners [4]Pixel
	// U is the standard uncertainty of each coordinate of each corner, in px,
	// from the scatter of the edge positions about the fitted lines, and from what
	// halos leave that lie on one another. It says
	// nothing of errors that all edges share (see Diagnostics, Blur).
	U [4]float64
	// Contrast is the step from black to white over the edges, in grey levels.
	Contrast float64
	// Blur is the standard deviation in px of the blur of the edges, the
	// pixel's own aperture included; in a sharpened picture, that of a plain edge
	// which rises as steeply. Beyond about a fifth of a module (side/35)
	// the payload reaches into the profile and it comes out too small, by a
	// sixth at 0.3 modules.
	Blur float64
	// BitsCorrected counts the payload modules that were read wrong and put
	// right by the code's distance.
	BitsCorrected int
}

// Centre is the mean of the four corners in px: where to write the mark's
// number, not the image of the mark's centre.
func (m Mark) Centre() Pixel { return centre(m.Corners) }

// Side is the mean length of the four sides in px.
func (m Mark) Side() float64 { return meanSide(m.Corners) }

// Diagnostics says what FindMarks met on its way, for the hints that go with a
// refusal.
type Diagnostics struct {
	// Reduction is the side of a searched pixel in px of the full picture.
	Reduction float64
	// Contours and Quads count closed outlines and those with four corners.
	Contours, Quads int
	// Undecoded counts places that look like a mark (dark border, light
	// surround) whose payload is no mark of the control frame.
	Undecoded int
	// Alike is the largest number of these whose sides differ by less than a
	// third: marks of one frame do, clutter seldom.
	Alike int
	// Mirrored counts the marks whose mirror image was read somewhere.
	Mirrored int
	// Unrefined counts marks that were read but whose edges could not be
	// measured; they are not reported.
	Unrefined int
	// Predicted counts marks found only where the other marks said they are.
	Predicted int
	// Blur is the mean blur in px over the marks reported or, when there are
	// none, over the places that look like one; 0 when there are none either.
	Blur float64
	// EdgeShift is how far white was found to have crept into black across
	// every edge (ink spread, blur seen through the tone curve), in px, by the
	// width of the marks' borders; EdgeShiftU is its standard uncertainty. The
	// corners reported have it taken off. Both are 0 where the modules are too
	// few or too small for the blur: the shift is then still in the corners.
	EdgeShift, EdgeShiftU float64
	// Saturated is the share of the picture at 250 grey levels or more.
	Saturated float64
}

func centre(q [4]Pixel) Pixel {
	return Pixel{X: (q[0].X + q[1].X + q[2].X + q[3].X) / 4, Y: (q[0].Y + q[1].Y + q[2].Y + q[3].Y) / 4}
}

func meanSide(q [4]Pixel) float64 {
	s := 0.0
	for i := range 4 {
		s += q[i].Distance(q[(i+1)%4])
	}
	return s / 4
}

// shortestSide is the length of the shortest side in px.
func shortestSide(q [4]Pixel) float64 {
	s := math.Inf(1)
	for i := range 4 {
		s = min(s, q[i].Distance(q[(i+1)%4]))
	}
	return s
}

// turnedArea is twice the signed area; it is positive when the corners run
// clockwise as seen on the screen (y down), as a mark's do unless mirrored.
func turnedArea(q [4]Pixel) float64 {
	a := 0.0
	for i := range 4 {
		j := (i + 1) % 4
		a += q[i].X*q[j].Y - q[j].X*q[i].Y
	}
	return a
}

// convex reports whether the corners run clockwise with a right turn at each.
func convex(q [4]Pixel) bool {
	for i := range 4 {
		a, b, c := q[i], q[(i+1)%4], q[(i+2)%4]
		if (b.X-a.X)*(c.Y-b.Y)-(b.Y-a.Y)*(c.X-b.X) <= 0 {
			return false
		}
	}
	return true
}
