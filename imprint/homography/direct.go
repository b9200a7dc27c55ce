package homography

import (
	"fmt"
	"math"
)

// Projective is a homography from mm of a plane to px of the upright picture, row by row, without a
// lens: what a record keeps of a picture.
type Projective [9]float64

// Direct is the homography of points on a plane and where the picture shows them, by the normalised
// direct linear transform. The error says that the points determine none.
func Direct(plane []PlanePoint, image []Pixel) (h Projective, err error) {
	if len(plane) != len(image) {
		return h, fmt.Errorf("%w: %d points of the plane and %d of the picture", ErrDegenerate, len(plane),
			len(image))
	}
	pairs := make([]pair, len(plane))
	for i, q := range plane {
		pairs[i] = pair{image[i].X, image[i].Y, q.X, q.Y}
	}
	m, err := directLinear(pairs)
	if err != nil {
		return h, err
	}
	m = m.scaled(1 / m[8])
	if !m.finite() {
		return h, fmt.Errorf("%w: the plane's origin lies on the horizon", ErrDegenerate)
	}
	return Projective(m), nil
}

// ImageFromPlane is the pixel that shows a point of the plane.
func (h Projective) ImageFromPlane(p PlanePoint) Pixel {
	x, y := matrix3(h).apply(p.X, p.Y)
	return Pixel{x, y}
}

// PlaneFromImage is the point of the plane that a pixel shows. The error says that it shows none: it
// lies beyond the horizon.
func (h Projective) PlaneFromImage(p Pixel) (PlanePoint, error) {
	x, y := matrix3(h).inverse().apply(p.X, p.Y)
	q := PlanePoint{x, y}
	ahead := (h[6]*x+h[7]*y+h[8])*h[8] > 0 // the side of the horizon on which the plane's origin is
	if !ahead || math.IsNaN(x+y) || math.IsInf(x+y, 0) {
		return PlanePoint{}, fmt.Errorf("%w: (%.1f, %.1f) px", ErrBeyondModel, p.X, p.Y)
	}
	return q, nil
}
