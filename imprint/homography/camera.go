package homography

import (
	"errors"
	"fmt"
	"math"

	"gonum.org/v1/gonum/floats"
	"gonum.org/v1/gonum/mat"

	"sitspan/imprint/internal/leastsquares"
)

// Camera is where a photo was taken from, in the frame's axes.
type Camera struct {
	// Position is the point of the plane straight under the camera, mm.
	Position PlanePoint
	// Height above the frame's plane, mm.
	Height float64
	// Covariance of (Position.X, Position.Y, Height), mm^2.
	Covariance [3][3]float64
	// Rotation from the frame's axes (x right, y down, z into the pad) to the
	// camera's (x right, y down, z forward), row by row.
	Rotation [9]float64
	// TiltDegrees is the angle between the optical axis and the plane's normal.
	TiltDegrees float64
	// Focal is the focal length after the fit.
	Focal Focal
	// FromHomography is what the homography alone says of it; Pixels is 0
	// where the view is too frontal to say.
	FromHomography Focal
	// FocalVerdict and FocalError (normalised) compare it with what was stated.
	FocalVerdict FocalVerdict
	FocalError   float64
	// ByFocal is the change of (Position.X, Position.Y, Height) in mm for a
	// relative change of 1 of the focal length: photos from one phone share it.
	ByFocal [3]float64
}

// ErrNoCamera says that the fit is that of a scan, which has no camera.
var ErrNoCamera = errors.New("a scan has no camera")

// The parameters of a pose: a rotation vector on top of the first estimate,
// the camera's position, the logarithm of the focal length in half diagonals,
// and the principal point.
const (
	poseX      = 3
	poseHeight = 5
	poseFocal  = 6
	poseCX     = 7
	poseCount  = 9
)

// CameraFrom finds the camera from the homography and a stated focal length
// (from EXIF, or [FocalUnknown]).
//
// The pose, the focal length and the principal point are fitted to the
// homography with the homography's covariance, the stated focal length being
// one more observation: an oblique view sharpens it, a frontal one leaves it
// as it is. Where the homography contradicts the stated focal length and is
// sharper, the stated one is set aside (FocalVerdict).
func (f *PlaneFit) CameraFrom(stated Focal) (*Camera, error) {
	if f.problem.flat {
		return nil, ErrNoCamera
	}
	if err := checkFocal(stated); err != nil {
		return nil, err
	}
	camera := &Camera{}
	prior, start := camera.chooseFocal(stated, f)
	pose, err := f.newPose(start, prior)
	if err != nil {
		return nil, err
	}
	if _, err := pose.solve(camera); err != nil {
		return nil, fmt.Errorf("camera: %w", err)
	}
	return camera, nil
}

func checkFocal(stated Focal) error {
	if !(stated.Pixels > 0) || !(stated.U > 0) || math.IsInf(stated.Pixels, 1) || math.IsInf(stated.U, 1) {
		return fmt.Errorf("camera: found a focal length of %v px with u = %v px, need positive numbers",
			stated.Pixels, stated.U)
	}
	return nil
}

// chooseFocal compares the stated focal length with the homography's and
// returns the prior for the pose's fit and a start. The prior never contains
// the homography's own estimate, which the fit uses anyway.
func (c *Camera) chooseFocal(stated Focal, f *PlaneFit) (prior, start Focal) {
	own, err := f.FocalFromHomography()
	if err != nil {
		return stated, stated
	}
	c.FromHomography = own
	start, c.FocalError, c.FocalVerdict = CombineFocal(stated, own)
	switch c.FocalVerdict {
	case FocalOverruled:
		return Focal{own.Pixels, own.Pixels}, own // 100 %: as good as none
	case FocalInDoubt:
		return start, start
	default:
		return stated, start
	}
}

// pose is the fit of a camera to a homography.
type pose struct {
	fit      *PlaneFit
	first    matrix3 // the rotation of the first estimate
	start    []float64
	observed []int         // indices of the fit's parameters that are observed
	whiten   *mat.TriDense // L^-1, with L L' their covariance
	prior    gaussian      // of the logarithm of the focal length
}

func (f *PlaneFit) newPose(start, prior Focal) (*pose, error) {
	p := &pose{fit: f, prior: gaussian{math.Log(prior.Pixels / f.problem.norm.radius), prior.relative()}}
	for j := range homographyCount {
		p.observed = append(p.observed, j)
	}
	if f.problem.prior.UPrincipal > 0 {
		p.observed = append(p.observed, paramCX, paramCY)
	}
	n := len(p.observed)
	c, perspective := mat.NewSymDense(n, nil), f.perspective()
	for a, i := range p.observed {
		for b, j := range p.observed[:a+1] {
			c.SetSym(a, b, perspective.At(i, j))
		}
	}
	var chol mat.Cholesky
	if !chol.Factorize(c) {
		return nil, errors.New("camera: the homography's covariance is singular")
	}
	var lower mat.TriDense
	chol.LTo(&lower)
	p.whiten = mat.NewTriDense(n, mat.Lower, nil)
	if err := p.whiten.InverseTri(&lower); err != nil && math.IsInf(chol.Cond(), 1) {
		return nil, fmt.Errorf("camera: %w", err)
	}
	p.firstEstimate(math.Log(start.Pixels / f.problem.norm.radius))
	return p, nil
}

// firstEstimate takes the pose from the columns of K^-1 H in closed form: the
// nearest rotation by way of the columns' bisectors, the scale by their mean.
func (p *pose) firstEstimate(logFocal float64) {
	at, focal := p.fit.found.at, math.Exp(logFocal)
	cx, cy := at[paramCX], at[paramCY]
	toRays := matrix3{1 / focal, 0, -cx / focal, 0, 1 / focal, -cy / focal, 0, 0, 1}
	m := toRays.times(at.matrix())
	h1, h2, t := m.column(0), m.column(1), m.column(2)
	if t[2] < 0 { // the frame lies before the camera
		h1, h2, t = minus([3]float64{}, h1), minus([3]float64{}, h2), minus([3]float64{}, t)
	}
	scale := (math.Sqrt(dot(h1, h1)) + math.Sqrt(dot(h2, h2))) / 2
	// The bisectors of two vectors of equal length are orthogonal; turning
	// them back by 45 degrees gives the orthogonal pair nearest to the two.
	sum, difference := unit(plus(unit(h1), unit(h2))), unit(minus(unit(h1), unit(h2)))
	r1, r2 := unit(plus(sum, difference)), unit(minus(sum, difference))
	r3 := cross(r1, r2)
	p.first = matrix3{r1[0], r2[0], r3[0], r1[1], r2[1], r3[1], r1[2], r2[2], r3[2]}

	n := p.fit.problem.norm
	position := [3]float64{-dot(r1, t), -dot(r2, t), -dot(r3, t)}
	unitLength := n.scale / scale // mm per unit of t
	p.start = make([]float64, poseCount)
	p.start[poseX] = n.origin.X + unitLength*position[0]
	p.start[poseX+1] = n.origin.Y + unitLength*position[1]
	p.start[poseHeight] = -unitLength * position[2] // z points into the pad
	p.start[poseFocal] = logFocal
	p.start[poseCX], p.start[poseCX+1] = cx, cy
}

// rotation returns the rotation at pose parameters.
func (p *pose) rotation(at []float64) matrix3 {
	return rotation([3]float64{at[0], at[1], at[2]}).times(p.first)
}

// homography returns the normalised homography that a pose gives: K R times
// the plane's axes and its origin as seen from the camera, C = (x, y, -H).
func (p *pose) homography(at []float64) matrix3 {
	n, focal := p.fit.problem.norm, math.Exp(at[poseFocal])
	k := matrix3{focal, 0, at[poseCX], 0, focal, at[poseCX+1], 0, 0, 1}
	plane := matrix3{
		n.scale, 0, n.origin.X - at[poseX],
		0, n.scale, n.origin.Y - at[poseX+1],
		0, 0, at[poseHeight],
	}
	m := k.times(p.rotation(at)).times(plane)
	return m.scaled(1 / m[8])
}

// residuals are the whitened differences from the homography, then the focal
// length's from its prior.
func (p *pose) residuals(dst, free []float64) {
	at := p.complete(free)
	var model parameters
	m := p.homography(at)
	copy(model[:homographyCount], m[:homographyCount])
	model[paramCX], model[paramCY] = at[poseCX], at[poseCX+1]
	count := len(p.observed)
	difference := make([]float64, count)
	for n, index := range p.observed {
		difference[n] = model[index] - p.fit.found.at[index]
	}
	for i := range count {
		dst[i] = 0
		for j := range i + 1 {
			dst[i] += p.whiten.At(i, j) * difference[j]
		}
	}
	dst[count] = (at[poseFocal] - p.prior.mean) / p.prior.u
}

// complete adds the principal point where it is held.
func (p *pose) complete(free []float64) []float64 {
	if len(free) == poseCount {
		return free
	}
	return append(append([]float64(nil), free...), p.start[len(free):]...)
}

// solve fits the pose, fills the camera in, and returns the chi-square.
func (p *pose) solve(c *Camera) (chi float64, err error) {
	free := poseCount - (homographyCount + 2 - len(p.observed))
	scale := []float64{1, 1, 1, p.start[poseHeight], p.start[poseHeight], p.start[poseHeight], 1, 1, 1}
	fit, err := leastsquares.Minimise(leastsquares.Problem{
		Count:     len(p.observed) + 1,
		Residuals: p.residuals,
	}, p.start[:free], leastsquares.Options{Scale: scale[:free]})
	if err != nil {
		return 0, err
	}
	at := p.complete(fit.Parameters)
	if !(at[poseHeight] > 0) {
		return 0, fmt.Errorf("found a height of %.0f mm, need a camera above the frame", at[poseHeight])
	}
	// The observations are whitened by their own covariance: no rescaling.
	p.describe(c, at, fit.Unscaled)
	return floats.Dot(fit.Residuals, fit.Residuals), nil
}

// describe turns the parameters into a camera.
func (p *pose) describe(c *Camera, at []float64, covariance *mat.SymDense) {
	r := p.rotation(at)
	c.Position, c.Height = PlanePoint{at[poseX], at[poseX+1]}, at[poseHeight]
	c.Rotation = r
	c.TiltDegrees = math.Acos(math.Min(1, r[8])) * 180 / math.Pi
	focal := p.fit.problem.norm.radius * math.Exp(at[poseFocal])
	c.Focal = Focal{focal, focal * math.Sqrt(covariance.At(poseFocal, poseFocal))}
	for i := range 3 {
		for j := range 3 {
			c.Covariance[i][j] = covariance.At(poseX+i, poseX+j)
		}
		c.ByFocal[i] = covariance.At(poseX+i, poseFocal) / covariance.At(poseFocal, poseFocal)
	}
}

// UHeight returns the standard uncertainty of the height in mm.
func (c *Camera) UHeight() float64 { return math.Sqrt(c.Covariance[2][2]) }
