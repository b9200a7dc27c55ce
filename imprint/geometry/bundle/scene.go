package bundle

import (
	"errors"
	"fmt"
	"math"
)

// Vec is a point or a direction in the frame's axes, mm.
type Vec [3]float64

// Pixel is a place in a picture, px.
type Pixel [2]float64

// View is one photo: its size, a first idea of where it was taken from, and its camera.
type View struct {
	Width, Height int
	Rotation      [9]float64 // from the frame's axes to the camera's, row by row
	Position      Vec        // of the camera, mm; z is minus its height
	Camera        Camera
}

// Camera is what is known of a photo's camera beforehand, each with its standard uncertainty. Each photo has
// its own lens terms, since a phone moves its lens to focus and to hold the picture still; the focal lengths
// of photos by one lens are nearly one.
type Camera struct {
	Lens      string  // photos that name the same one were taken through it at one zoom; "" is like no other
	Focal     float64 // px
	FocalU    float64 // relative, of what all photos through the lens have in common
	FocalOwnU float64 // relative, of what each has for itself
	// of the radial terms about 0, in units of half the diagonal (package homography, The lens)
	K1U, K2U   float64
	PrincipalU float64 // of the principal point about the picture's centre, as a share of half the diagonal
}

// Control is a control point: a corner of a mark, whose place on the frame is known.
type Control struct{ X, Y float64 }

// Seen is one sight of a point: of a control point or a tie point, by its index.
type Seen struct {
	View, Point int
	At          Pixel
	U           float64 // standard uncertainty of either coordinate, px
}

// Frame is what is known of the printed frame beforehand.
type Frame struct {
	// The card bows smoothly: its heights are Gaussian with this standard uncertainty in mm, alike over this
	// length in mm (a squared exponential correlation).
	BowU, BowLength float64
	// StretchU is the standard uncertainty of the print's scale along x over that along y, and SkewU that of its
	// right angles in radians. The print's scale itself is not an unknown here: it scales all alike.
	StretchU, SkewU float64
}

// Scene is all that is given.
type Scene struct {
	Views    []View
	Frame    Frame
	Controls []Control
	Ties     []Vec // first ideas of where the tie points lie
	// ControlSeen and TieSeen are what the photos show.
	ControlSeen, TieSeen []Seen
}

// ErrTooLittle says that the photos do not hold enough to be adjusted.
var ErrTooLittle = errors.New("too little to adjust")

// check refuses what cannot be adjusted.
func (s *Scene) check() error {
	if len(s.Views) == 0 || len(s.ControlSeen) < 4*len(s.Views) {
		return fmt.Errorf("%w: %d photos and %d sights of control points", ErrTooLittle, len(s.Views),
			len(s.ControlSeen))
	}
	for _, v := range s.Views {
		if v.Width < 2 || v.Height < 2 || !(v.Position[2] < 0) {
			return fmt.Errorf("bundle: found a photo of %d x %d px from %v mm", v.Width, v.Height, v.Position)
		}
		if c := v.Camera; !(c.Focal > 0 && c.FocalU > 0 && c.FocalOwnU > 0 && c.K1U > 0 && c.K2U > 0 &&
			c.PrincipalU > 0) {
			return fmt.Errorf("bundle: found a camera %+v, need positive numbers", c)
		}
	}
	if f := s.Frame; !(f.BowU > 0 && f.BowLength > 0 && f.StretchU > 0 && f.SkewU > 0) {
		return fmt.Errorf("bundle: found a frame %+v, need positive numbers", f)
	}
	for _, list := range []struct {
		seen  []Seen
		count int
	}{{s.ControlSeen, len(s.Controls)}, {s.TieSeen, len(s.Ties)}} {
		for _, o := range list.seen {
			if o.View < 0 || o.View >= len(s.Views) || o.Point < 0 || o.Point >= list.count || !(o.U > 0) ||
				math.IsNaN(o.At[0]+o.At[1]) {
				return fmt.Errorf("bundle: found a sight %+v, need an index in range and positive uncertainty", o)
			}
		}
	}
	return nil
}
