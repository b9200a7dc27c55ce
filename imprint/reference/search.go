package reference

import (
	"image"

	"sitspan/imprint/homography"
)

// Search is a picture in which the straight edges are known: what both references are found by. It is not for
// pictures below 200 px a side, in which nothing is found.
type Search struct {
	img *image.Gray
	f   *field
}

// leastPicture is the shorter side in px below which a picture holds no reference that could be measured.
const leastPicture = 200

// NewSearch finds the straight edges of an upright grey picture whose bounds begin at (0, 0).
func NewSearch(img *image.Gray) *Search {
	s := &Search{img: img, f: &field{scale: 1}}
	if min(img.Rect.Dx(), img.Rect.Dy()) >= leastPicture && img.Rect.Min == (image.Point{}) {
		s.f = straight(img)
	}
	return s
}

// Card finds a card of ID-1 size by its four straight edges and rounded corners, and fits the plane under it;
// focal is what is known of the focal length. The error is ErrNoCard where there is none, or none that is
// surely one.
func (s *Search) Card(focal homography.Focal) (*Card, error) { return findCard(s.img, s.f, focal) }

// Rule finds a millimetre graduation by its frequency along a straight edge, tells millimetres from half
// millimetres and from parts of an inch by the longer lines, and fits the plane. The error is ErrNoRule where
// there is none.
func (s *Search) Rule(focal homography.Focal) (*Rule, error) { return findRule(s.img, s.f, focal) }
