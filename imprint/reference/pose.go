package reference

import (
	"errors"
	"math"

	"gonum.org/v1/gonum/mat"

	"sitspan/imprint/homography"
	"sitspan/imprint/internal/leastsquares"
)

// ErrBeyondHorizon says that a pixel does not see the plane.
var ErrBeyondHorizon = errors.New("the pixel does not see the plane")

var errImplausible = errors.New("the camera would be at an implausible height")

// A camera is between these heights in mm over an imprint that it shows with a reference; a wrong scale by a
// factor of 5 or 10, such as a graduation in other units, puts it elsewhere.
const leastHeight, mostHeight = 120.0, 1800.0

// The parameters that every pose has; those of the reference follow.
const (
	rotX, rotY, rotZ        = 0, 1, 2 // turn about the start's rotation, rad
	shiftX, shiftY, shiftZ  = 3, 4, 5 // of the plane's origin in the camera's axes, mm
	logFocal, radial        = 6, 7    // ln of the focal length in px; k1 (package homography)
	principalX, principalY  = 8, 9    // principal point off the picture's middle, in half diagonals
	topHeight               = 10      // of the reference's face over the plane, mm
	firstOwn                = 11      // the reference's own parameters
	lensK1U, lensPrincipalU = 0.01, 0.02
	tiltU                   = 0.17 // rad, about 10 degrees: pictures are taken from above
)

// prior is what is known of a parameter beforehand, Gaussian.
type prior struct{ mean, u float64 }

// sighting is a pixel that lies on a straight feature of the reference's face: one coordinate of it is known.
type sighting struct {
	at     homography.Pixel
	axis   int                       // 0: x is known, 1: y
	gsd    float64                   // mm per px there, to turn millimetres into pixels
	u      float64                   // px
	target func(p []float64) float64 // mm
}

// scene is what the fit is made from.
type scene struct {
	width, height int
	rotation      [9]float64 // start
	priors        map[int]prior
	sightings     []sighting
	count         int // of parameters
}

// Pose is the plane that a reference rests on, as the picture shows it.
type Pose struct {
	scene
	p    []float64
	info *mat.SymDense // inverse covariance of p
	// RMSPixels is the rms distance of the reference's features from the fit, px.
	RMSPixels float64
	// misfit is the sum of squares by which the priors are off, in standard uncertainties.
	misfit float64
	// the groups of parameters, for SpacingUncertainty.
	groups []group
}

type group struct {
	influence Influence
	of        []int
}

// eye is a camera with its parameters worked out.
type eye struct {
	r           [9]float64
	from        [3]float64 // the camera's place in the plane's axes
	half, focal float64    // half diagonals of the picture, px; px
	cx, cy, k1  float64
}

func (s *scene) eye(p []float64) eye {
	e := eye{r: s.turned(p), half: math.Hypot(float64(s.width), float64(s.height)) / 2,
		focal: math.Exp(p[logFocal]), k1: p[radial]}
	e.cx, e.cy = float64(s.width-1)/2+p[principalX]*e.half, float64(s.height-1)/2+p[principalY]*e.half
	e.from = e.toPlane([3]float64{-p[shiftX], -p[shiftY], -p[shiftZ]})
	return e
}

// toPlane turns a direction from the camera's axes to the plane's.
func (e *eye) toPlane(c [3]float64) (d [3]float64) {
	for i := range 3 {
		d[i] = e.r[i]*c[0] + e.r[3+i]*c[1] + e.r[6+i]*c[2]
	}
	return d
}

// meet is where the line of sight of a pixel meets the level height mm over the plane; NaN where it does not.
func (e *eye) meet(px homography.Pixel, height float64) (x, y float64) {
	x, y = (px.X-e.cx)/e.half, (px.Y-e.cy)/e.half
	u, v := x, y
	for range 4 {
		k := 1 + e.k1*(u*u+v*v)
		u, v = x/k, y/k
	}
	g := e.half / e.focal
	d := e.toPlane([3]float64{u * g, v * g, 1})
	k := (-height - e.from[2]) / d[2]
	if !(k > 0) {
		return math.NaN(), math.NaN()
	}
	return e.from[0] + k*d[0], e.from[1] + k*d[1]
}

// turned is the rotation from the plane's axes to the camera's.
func (s *scene) turned(p []float64) [9]float64 {
	return product(rotation(p[rotX], p[rotY], p[rotZ]), s.rotation)
}

// rotation is Rodrigues' formula for the vector (x, y, z), rad.
func rotation(x, y, z float64) [9]float64 {
	a := math.Sqrt(x*x + y*y + z*z)
	s, c := 1.0, 0.5
	if a > 1e-9 {
		s, c = math.Sin(a)/a, (1-math.Cos(a))/(a*a)
	}
	return [9]float64{
		1 - c*(y*y+z*z), -s*z + c*x*y, s*y + c*x*z,
		s*z + c*x*y, 1 - c*(x*x+z*z), -s*x + c*y*z,
		-s*y + c*x*z, s*x + c*y*z, 1 - c*(x*x+y*y),
	}
}

func product(a, b [9]float64) (c [9]float64) {
	for i := range 3 {
		for j := range 3 {
			for k := range 3 {
				c[3*i+j] += a[3*i+k] * b[3*k+j]
			}
		}
	}
	return c
}

// residuals are those of the sightings, then those of the priors, in standard uncertainties.
func (s *scene) residuals(dst, p []float64) {
	e := s.eye(p)
	for i, o := range s.sightings {
		x, y := e.meet(o.at, p[topHeight])
		if o.axis == 1 {
			x = y
		}
		dst[i] = (x - o.target(p)) / (o.gsd * o.u)
	}
	i := len(s.sightings)
	for k := range s.count {
		if q, known := s.priors[k]; known {
			dst[i] = (p[k] - q.mean) / q.u
			i++
		}
	}
	// The tilt's prior: the plane's normal in the camera's axes.
	dst[i], dst[i+1] = e.r[2]/tiltU, e.r[5]/tiltU
}

// fit adjusts the pose from a start, then scales the sightings' uncertainties to their own scatter, never
// below least px, and fits again.
func (s *scene) fit(start []float64, least float64) (*Pose, error) {
	f, err := s.once(start)
	if err != nil {
		return nil, err
	}
	n := len(s.sightings)
	sd := leastsquares.RobustSD(f.Residuals[:n])
	for i := range s.sightings {
		s.sightings[i].u = math.Max(least, s.sightings[i].u*sd)
	}
	if f, err = s.once(f.Parameters); err != nil {
		return nil, err
	}
	pose := &Pose{scene: *s, p: f.Parameters, info: mat.NewSymDense(s.count, nil)}
	for i, r := range f.Residuals[:n] {
		d := r * s.sightings[i].u
		pose.RMSPixels += d * d / float64(n)
	}
	pose.RMSPixels = math.Sqrt(pose.RMSPixels)
	if h := -s.eye(pose.p).from[2]; !(h >= leastHeight && h <= mostHeight) {
		return nil, errImplausible
	}
	for _, r := range f.Residuals[n:] {
		pose.misfit += r * r
	}
	var chol mat.Cholesky
	if !chol.Factorize(f.Unscaled) {
		return nil, leastsquares.ErrSingular
	}
	if err := chol.InverseTo(pose.info); err != nil {
		return nil, err
	}
	return pose, nil
}

func (s *scene) once(start []float64) (leastsquares.Fit, error) {
	scale := make([]float64, s.count)
	for i := range scale {
		scale[i] = 1e-2
	}
	scale[shiftX], scale[shiftY], scale[shiftZ] = 10, 10, 100
	return leastsquares.Minimise(leastsquares.Problem{
		Count:     len(s.sightings) + len(s.priors) + 2,
		Residuals: s.residuals,
	}, start, leastsquares.Options{Huber: 2.5, Scale: scale, Tolerance: 1e-3, MaxIterations: 60})
}

// PlaneFromImage is the point of the plane, in mm, that a pixel shows.
func (s *Pose) PlaneFromImage(px homography.Pixel) (homography.PlanePoint, error) {
	q := s.seen(s.p, px)
	if math.IsNaN(q.X) {
		return q, ErrBeyondHorizon
	}
	return q, nil
}

func (s *Pose) seen(p []float64, px homography.Pixel) homography.PlanePoint {
	e := s.eye(p)
	x, y := e.meet(px, 0)
	return homography.PlanePoint{X: x, Y: y}
}

// ImageFromPlane is the pixel that shows a point of the plane.
func (s *Pose) ImageFromPlane(q homography.PlanePoint) homography.Pixel { return s.image(q, 0) }

// image is the pixel that shows a point height mm over the plane.
func (s *Pose) image(q homography.PlanePoint, height float64) homography.Pixel {
	r := s.turned(s.p)
	c := [3]float64{s.p[shiftX], s.p[shiftY], s.p[shiftZ]}
	for i := range 3 {
		c[i] += r[3*i]*q.X + r[3*i+1]*q.Y - r[3*i+2]*height
	}
	half := math.Hypot(float64(s.width), float64(s.height)) / 2
	g := math.Exp(s.p[logFocal]) / half
	u, v := c[0]/c[2]*g, c[1]/c[2]*g
	k := 1 + s.p[radial]*(u*u+v*v)
	return homography.Pixel{X: (u*k+s.p[principalX])*half + float64(s.width-1)/2, Y: (v*k+s.p[principalY])*half +
		float64(s.height-1)/2}
}

// GroundSample is the ground sample distance at a point of the plane, mm per px.
func (s *Pose) GroundSample(q homography.PlanePoint) float64 {
	o, a, b := s.ImageFromPlane(q), s.ImageFromPlane(homography.PlanePoint{X: q.X + 1, Y: q.Y}),
		s.ImageFromPlane(homography.PlanePoint{X: q.X, Y: q.Y + 1})
	return 1 / math.Sqrt(math.Abs((a.X-o.X)*(b.Y-o.Y)-(a.Y-o.Y)*(b.X-o.X)))
}
