package homography

import "math"

// The parameters of a fit, in normalised coordinates (see pair): the
// homography's entries with its last one 1, the radial lens terms, the
// principal point's offset from the picture's centre, and the lens' decentring.
const (
	paramK1         = 8
	paramK2         = 9
	paramCX         = 10
	paramCY         = 11
	paramP1         = 12
	paramP2         = 13
	paramCount      = 14
	homographyCount = 8
)

// parameters is the forward model, plane to picture.
type parameters [paramCount]float64

// sensitivity holds the derivatives of a normalised picture point: by the
// parameters, and by the plane point.
type sensitivity struct {
	params [2][paramCount]float64
	plane  Jacobian2
}

func (p *parameters) lens() distortion {
	return distortion{k1: p[paramK1], k2: p[paramK2], cx: p[paramCX], cy: p[paramCY], p1: p[paramP1],
		p2: p[paramP2]}
}

// matrix returns the ideal homography, before the lens.
func (p *parameters) matrix() matrix3 {
	return matrix3{p[0], p[1], p[2], p[3], p[4], p[5], p[6], p[7], 1}
}

// setMatrix takes over m, scaled to a last entry of 1. The plane's origin, the
// marks' centroid, is in view, so that entry is not zero.
func (p *parameters) setMatrix(m matrix3) {
	m = m.scaled(1 / m[8])
	copy(p[:homographyCount], m[:homographyCount])
}

// project maps a normalised plane point to the normalised picture.
func (p *parameters) project(px, py float64) (x, y float64) {
	ux, uy := p.matrix().apply(px, py)
	x, y, _ = p.lens().distort(ux, uy)
	return x, y
}

// differentiate is project with its derivatives.
func (p *parameters) differentiate(px, py float64) (x, y float64, s sensitivity) {
	w := p[6]*px + p[7]*py + 1
	ux, uy := p.matrix().apply(px, py)
	x, y, jac := p.lens().distort(ux, uy)

	a, b, c := px/w, py/w, 1/w
	ideal := [2][homographyCount]float64{
		{a, b, c, 0, 0, 0, -ux * a, -ux * b},
		{0, 0, 0, a, b, c, -uy * a, -uy * b},
	}
	for i := range 2 {
		for j := range homographyCount {
			s.params[i][j] = jac[i][0]*ideal[0][j] + jac[i][1]*ideal[1][j]
		}
	}
	p.differentiateLens(ux, uy, jac, &s)
	s.plane = jac.times(Jacobian2{
		{(p[0] - ux*p[6]) / w, (p[1] - ux*p[7]) / w},
		{(p[3] - uy*p[6]) / w, (p[4] - uy*p[7]) / w},
	})
	return x, y, s
}

// differentiateLens fills in the derivatives by the lens' parameters.
func (p *parameters) differentiateLens(ux, uy float64, jac Jacobian2, s *sensitivity) {
	q := [2]float64{ux - p[paramCX], uy - p[paramCY]}
	r2 := q[0]*q[0] + q[1]*q[1]
	for i := range 2 {
		s.params[i][paramK1] = q[i] * r2
		s.params[i][paramK2] = q[i] * r2 * r2
		s.params[i][paramCX] = -jac[i][0]
		s.params[i][paramCY] = -jac[i][1]
		s.params[i][paramCX+i]++
		s.params[i][paramP1+1-i] = r2 + 2*q[i]*q[i]
		s.params[i][paramP1+i] = 2 * q[0] * q[1]
	}
}

// unproject maps a normalised picture point to the plane; false where the
// lens model or the homography has no inverse there: beyond the radius at
// which the polynomial folds back, or past the plane's horizon.
func (p *parameters) unproject(x, y float64) (px, py float64, ok bool) {
	ux, uy, ok := p.lens().undistort(x, y)
	if !ok {
		return 0, 0, false
	}
	px, py = p.matrix().inverse().apply(ux, uy)
	ahead := p[6]*px+p[7]*py+1 > 0
	return px, py, ahead && !math.IsNaN(px) && !math.IsInf(px, 0) && !math.IsNaN(py) && !math.IsInf(py, 0)
}

// normalisation moves between px, mm and the normalised coordinates.
type normalisation struct {
	centre Pixel      // the picture's centre
	radius float64    // half its diagonal, px
	origin PlanePoint // the control points' centroid
	scale  float64    // their rms distance from it, mm
}

func newNormalisation(points []Correspondence, o Options) normalisation {
	n := normalisation{centre: o.centre(), radius: o.halfDiagonal()}
	count := float64(len(points))
	for _, p := range points {
		n.origin.X += p.Plane.X / count
		n.origin.Y += p.Plane.Y / count
	}
	for _, p := range points {
		n.scale += math.Pow(p.Plane.Distance(n.origin), 2) / count
	}
	n.scale = math.Sqrt(n.scale)
	return n
}

func (n normalisation) fromPixel(p Pixel) (x, y float64) {
	return (p.X - n.centre.X) / n.radius, (p.Y - n.centre.Y) / n.radius
}

func (n normalisation) toPixel(x, y float64) Pixel {
	return Pixel{n.centre.X + n.radius*x, n.centre.Y + n.radius*y}
}

func (n normalisation) fromPlane(p PlanePoint) (px, py float64) {
	return (p.X - n.origin.X) / n.scale, (p.Y - n.origin.Y) / n.scale
}

func (n normalisation) toPlane(px, py float64) PlanePoint {
	return PlanePoint{n.origin.X + n.scale*px, n.origin.Y + n.scale*py}
}

func (n normalisation) pair(c Correspondence) pair {
	x, y := n.fromPixel(c.Pixel)
	px, py := n.fromPlane(c.Plane)
	return pair{x: x, y: y, px: px, py: py}
}
