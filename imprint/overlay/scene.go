package overlay

import (
	"errors"
	"fmt"
	"image"
	"math"
)

// The four outcomes of a measurement, as [Scene.Status].
const (
	Measured = "measured"
	Review   = "review"
	Refused  = "refused"
	Failed   = "failed"
)

// Scene is what there is to draw. Only Photo and Scale are required.
type Scene struct {
	// Photo is the upright picture, opaque; it may be reduced. It is not
	// changed.
	Photo *image.NRGBA
	// Scale is the photo's size in px per px of the original: the original's
	// point x lies at (x + 0.5) Scale - 0.5.
	Scale float64

	// Plane says where the upright original shows a point, in mm, of the
	// frame's plane; nil where there is no frame. Without it neither grid nor
	// ellipses are drawn.
	Plane func(mm [2]float64) (px [2]float64)
	// Window is the extent of the grid in mm, centred on the origin; zero for
	// no grid.
	Window [2]float64

	// Marks are the corners of the marks found, in px of the original, in
	// order round each mark. MarkIDs are their numbers, or empty.
	Marks   [][4][2]float64
	MarkIDs []int

	// Relief is the measured surface, nil where there is none.
	Relief *Relief

	// Left and Right are the two centres, nil where none was found.
	Left, Right *Centre
	// Spacing stands on the line between the centres, e.g. "116.4 ± 1.2 mm".
	Spacing string
	// Rejected are the places that were looked at and left out.
	Rejected []Rejected

	// Status is measured, review, refused, failed or empty.
	Status string
	// Headline stands large at the strip's top, the first line largest; Footer
	// stands smaller below. Lines are wrapped.
	Headline, Footer []string
	// Words are the drawing's own texts.
	Words Words
}

// Centre is one deepest point as seen.
type Centre struct {
	Px      [2]float64 // in the upright original
	PlaneMM [2]float64 // where Px is on the frame's plane, mm
	// Semi are the semi-axes in mm of the region that holds the point with
	// 95 %, drawn round PlaneMM; zero for none. DirectionDeg is the direction
	// of the first, in degrees from the frame's x axis toward its y axis.
	Semi         [2]float64
	DirectionDeg float64
	Label        string // e.g. "left, 14 mm deep"
}

// Rejected is a place that was left out, and why.
type Rejected struct {
	Px  [2]float64 // in the upright original
	Why string     // e.g. "third dent of like depth"
}

// farthest is the largest coordinate in px or mm that is taken for one: no
// picture is as large, and products of two stay exact enough.
const farthest = 1e6

// ErrNoPhoto says that a scene has no photo to draw on.
var ErrNoPhoto = errors.New("overlay: no photo to draw on")

// check tells in one line what is wrong with a scene, or nil.
func (s *Scene) check() error {
	if s.Photo == nil || s.Photo.Rect.Empty() {
		return ErrNoPhoto
	}
	if !(s.Scale > 0 && s.Scale <= farthest) {
		return fmt.Errorf("overlay: scale %v, but a positive number of px per px is needed", s.Scale)
	}
	if n := len(s.MarkIDs); n != 0 && n != len(s.Marks) {
		return fmt.Errorf("overlay: %d marks with %d numbers, but one each, or none, is needed", len(s.Marks), n)
	}
	if _, known := statusLooks[s.Status]; !known && s.Status != "" {
		return fmt.Errorf("overlay: unknown status %q; measured, review, refused or failed is needed", s.Status)
	}
	if s.Status != "" && s.Words.Status == "" {
		return fmt.Errorf("overlay: status %s without a word, but one is needed", s.Status)
	}
	if err := s.Relief.check(); err != nil {
		return err
	}
	return s.checkPlaces()
}

// checkPlaces refuses coordinates that are none.
func (s *Scene) checkPlaces() error {
	var all []place
	for i, m := range s.Marks {
		for _, corner := range m {
			all = append(all, place{fmt.Sprintf("mark %d of the list", i+1), corner})
		}
	}
	for i, r := range s.Rejected {
		all = append(all, place{fmt.Sprintf("rejected place %d", i+1), r.Px})
	}
	all = append(all, s.Left.places("left centre")...)
	all = append(all, s.Right.places("right centre")...)
	all = append(all, s.Relief.places()...)
	all = append(all, s.planePlaces()...)
	for _, p := range all {
		if !usable(p.at) {
			return fmt.Errorf("overlay: %s at (%v, %v), but numbers within ±%g are needed", p.name, p.at[0], p.at[1],
				farthest)
		}
	}
	return nil
}

// places are what a centre says of itself.
func (c *Centre) places(name string) []place {
	if c == nil {
		return nil
	}
	return []place{
		{name, c.Px}, {name + " on the plane", c.PlaneMM},
		{name + "'s ellipse", c.Semi}, {name + "'s direction", [2]float64{c.DirectionDeg}},
	}
}

// planePlaces are the places that the plane must be able to show: the window's
// corners and middle, and both centres.
func (s *Scene) planePlaces() (all []place) {
	all = append(all, place{"window", s.Window})
	if s.Plane == nil || !usable(s.Window) {
		return all
	}
	x, y := s.Window[0]/2, s.Window[1]/2
	for _, mm := range [][2]float64{{0, 0}, {-x, -y}, {x, -y}, {x, y}, {-x, y}} {
		all = append(all, place{"image of the window", s.Plane(mm)})
	}
	for _, c := range []*Centre{s.Left, s.Right} {
		if c != nil {
			all = append(all, place{"image of a centre", s.Plane(c.PlaneMM)})
		}
	}
	return all
}

// place is a named pair of coordinates.
type place struct {
	name string
	at   [2]float64
}

// usable tells whether both coordinates are numbers of a sensible size.
func usable(p [2]float64) bool {
	return math.Abs(p[0]) <= farthest && math.Abs(p[1]) <= farthest // false for NaN
}
