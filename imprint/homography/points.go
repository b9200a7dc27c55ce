package homography

import "math"

// Pixel is a point of the picture in px; integers are pixel centres.
type Pixel struct{ X, Y float64 }

// PlanePoint is a point of the control frame's plane in mm, y down.
type PlanePoint struct{ X, Y float64 }

// Distance returns the distance to q in mm.
func (p PlanePoint) Distance(q PlanePoint) float64 { return math.Hypot(p.X-q.X, p.Y-q.Y) }

// Distance returns the distance to q in px.
func (p Pixel) Distance(q Pixel) float64 { return math.Hypot(p.X-q.X, p.Y-q.Y) }

// Correspondence pairs a control point of the frame with its image.
type Correspondence struct {
	Pixel Pixel      // where it was seen
	Plane PlanePoint // where it lies on the frame, mm
	// Group is the id of the coded mark that the point belongs to. Points of
	// one mark are kept or dropped together. Points that belong to no mark
	// each need an id of their own.
	Group int
	// U is the standard uncertainty of either pixel coordinate in px; 0 means
	// [DefaultCornerU]. Only the ratios between points matter where there are
	// points enough to estimate the noise from the residuals.
	U float64
}

// DefaultCornerU is the standard uncertainty in px taken for a corner whose
// own is not given: refined targets are "routinely better than 0.1 pixel"
// (phone cameras; Int. J. Optics 2019, 8561380, introduction).
const DefaultCornerU = 0.1

// Covariance2 is the covariance matrix of a point (x, y), mm^2 or px^2.
type Covariance2 [2][2]float64

// Ellipse returns the standard uncertainties along the covariance's principal
// axes, larger first, and the direction of the larger one in degrees from x
// toward y.
func (c Covariance2) Ellipse() (uMajor, uMinor, directionDeg float64) {
	mean, half := (c[0][0]+c[1][1])/2, (c[0][0]-c[1][1])/2
	radius := math.Hypot(half, c[0][1])
	direction := math.Atan2(c[0][1], half) / 2
	return math.Sqrt(mean + radius), math.Sqrt(math.Max(0, mean-radius)), direction * 180 / math.Pi
}

// Add returns the sum of two covariances, for independent influences.
func (c Covariance2) Add(d Covariance2) Covariance2 {
	for i := range c {
		for j := range c[i] {
			c[i][j] += d[i][j]
		}
	}
	return c
}

// Jacobian2 is the matrix of partial derivatives d(out)/d(in), row = out.
type Jacobian2 [2][2]float64

// Propagate returns J c J', the law of propagation (JCGM 100, eq. 13) for a
// point that is a function of a point.
func (j Jacobian2) Propagate(c Covariance2) Covariance2 {
	var half, out [2][2]float64
	for a := range 2 {
		for b := range 2 {
			half[a][b] = j[a][0]*c[0][b] + j[a][1]*c[1][b]
		}
	}
	for a := range 2 {
		for b := range 2 {
			out[a][b] = half[a][0]*j[b][0] + half[a][1]*j[b][1]
		}
	}
	return out
}

// Determinant returns the area of a unit square's image.
func (j Jacobian2) Determinant() float64 { return j[0][0]*j[1][1] - j[0][1]*j[1][0] }

// inverse returns the inverse; its entries are not finite if j is singular.
func (j Jacobian2) inverse() Jacobian2 {
	d := j.Determinant()
	return Jacobian2{{j[1][1] / d, -j[0][1] / d}, {-j[1][0] / d, j[0][0] / d}}
}

// times returns the matrix product j k.
func (j Jacobian2) times(k Jacobian2) Jacobian2 {
	var out Jacobian2
	for a := range 2 {
		for b := range 2 {
			out[a][b] = j[a][0]*k[0][b] + j[a][1]*k[1][b]
		}
	}
	return out
}
