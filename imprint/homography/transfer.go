package homography

import (
	"errors"
	"fmt"
	"math"

	"gonum.org/v1/gonum/mat"
)

// ErrBeyondModel says that a pixel has no point on the plane: it lies past
// the plane's horizon, or where the lens model folds back.
var ErrBeyondModel = errors.New("the pixel does not see the frame's plane")

// ImageFromPlane returns where the picture shows a point of the plane.
func (f *PlaneFit) ImageFromPlane(p PlanePoint) Pixel {
	px, py := f.problem.norm.fromPlane(p)
	return f.problem.norm.toPixel(f.found.at.project(px, py))
}

// PlaneFromImage returns the point of the plane, in mm, that a pixel shows.
// It takes the lens away and inverts the homography. The error wraps
// [ErrBeyondModel].
func (f *PlaneFit) PlaneFromImage(p Pixel) (PlanePoint, error) {
	x, y := f.problem.norm.fromPixel(p)
	px, py, ok := f.found.at.unproject(x, y)
	if !ok {
		return PlanePoint{}, fmt.Errorf("%w: (%.1f, %.1f) px", ErrBeyondModel, p.X, p.Y)
	}
	return f.problem.norm.toPlane(px, py), nil
}

// PlaneJacobian returns d(mm)/d(px) at a pixel: it carries the covariance of
// the pixel itself to the plane.
func (f *PlaneFit) PlaneJacobian(p Pixel) (Jacobian2, error) {
	at, _, err := f.sensitivity(p)
	return at.byPixel, err
}

// GroundSample returns the ground sample distance at a point of the plane in
// mm/px: the square root of the area that one pixel covers there.
func (f *PlaneFit) GroundSample(p PlanePoint) float64 {
	n := f.problem.norm
	px, py := n.fromPlane(p)
	_, _, s := f.found.at.differentiate(px, py)
	return n.scale / n.radius / math.Sqrt(math.Abs(s.plane.Determinant()))
}

// planeSensitivity holds the derivatives of a plane point in mm.
type planeSensitivity struct {
	byPixel  Jacobian2              // mm/px
	byParams [2][paramCount]float64 // mm per unit of the parameter
}

// sensitivity differentiates PlaneFromImage. With F(X, a) = x the forward
// model, the implicit function theorem gives dX/dx = (dF/dX)^-1 and
// dX/da = -(dF/dX)^-1 dF/da.
func (f *PlaneFit) sensitivity(p Pixel) (planeSensitivity, PlanePoint, error) {
	point, err := f.PlaneFromImage(p)
	if err != nil {
		return planeSensitivity{}, point, err
	}
	n := f.problem.norm
	px, py := n.fromPlane(point)
	_, _, forward := f.found.at.differentiate(px, py)
	inverse := forward.plane.inverse()
	var s planeSensitivity
	for i := range 2 {
		for j := range 2 {
			s.byPixel[i][j] = inverse[i][j] * n.scale / n.radius
		}
		for j := range paramCount {
			s.byParams[i][j] = -n.scale * (inverse[i][0]*forward.params[0][j] + inverse[i][1]*forward.params[1][j])
		}
	}
	return s, point, nil
}

// TransferCovariance returns the plane point that a pixel shows and the
// covariance, mm^2, that the fit's own uncertainty gives it. The uncertainty
// of the pixel comes on top: PlaneJacobian(pixel).Propagate(its covariance).
func (f *PlaneFit) TransferCovariance(p Pixel) (PlanePoint, Covariance2, error) {
	s, point, err := f.sensitivity(p)
	var c Covariance2
	if err != nil {
		return point, c, err
	}
	for i := range 2 {
		for j := range 2 {
			c[i][j] = bilinear(f.covariance, s.byParams[i], s.byParams[j])
		}
	}
	return point, c, nil
}

// JointCovariance returns the plane points of two pixels and the covariance,
// mm^2, of (x1, y1, x2, y2) that the fit gives them. Both share one fit, so
// the blocks off the diagonal are not zero.
func (f *PlaneFit) JointCovariance(a, b Pixel) (pa, pb PlanePoint, c [4][4]float64, err error) {
	sa, pa, err := f.sensitivity(a)
	if err != nil {
		return pa, pb, c, err
	}
	sb, pb, err := f.sensitivity(b)
	if err != nil {
		return pa, pb, c, err
	}
	rows := [4][paramCount]float64{sa.byParams[0], sa.byParams[1], sb.byParams[0], sb.byParams[1]}
	for i := range rows {
		for j := range rows {
			c[i][j] = bilinear(f.covariance, rows[i], rows[j])
		}
	}
	return pa, pb, c, nil
}

// SpacingOnPlane is the distance between two points of the plane with what the
// fit contributes to its standard uncertainty.
type SpacingOnPlane struct {
	Millimetres float64
	U           float64 // from the whole fit, mm
	// Corners and Lens split U in two, U^2 = Corners^2 + Lens^2: what would
	// stay if the lens were known exactly, and what the lens adds.
	Corners, Lens float64
}

// SpacingUncertainty returns the distance on the plane between the points that
// two pixels show and the standard uncertainty, in mm, that the one fit they
// share gives it.
func (f *PlaneFit) SpacingUncertainty(left, right Pixel) (SpacingOnPlane, error) {
	sl, pl, err := f.sensitivity(left)
	if err != nil {
		return SpacingOnPlane{}, err
	}
	sr, pr, err := f.sensitivity(right)
	if err != nil {
		return SpacingOnPlane{}, err
	}
	out := SpacingOnPlane{Millimetres: pl.Distance(pr)}
	ex, ey := (pr.X-pl.X)/out.Millimetres, (pr.Y-pl.Y)/out.Millimetres
	if out.Millimetres == 0 {
		return out, fmt.Errorf("spacing: both pixels show the same point (%.1f, %.1f) mm", pl.X, pl.Y)
	}
	var g [paramCount]float64
	for j := range g {
		g[j] = ex*(sr.byParams[0][j]-sl.byParams[0][j]) + ey*(sr.byParams[1][j]-sl.byParams[1][j])
	}
	whole, corners := quadratic(f.covariance, g), quadratic(f.lensHeld, g)
	out.U, out.Corners = math.Sqrt(whole), math.Sqrt(corners)
	out.Lens = math.Sqrt(math.Max(0, whole-corners))
	return out, nil
}

// Covariance returns a copy of the covariance of the fit's parameters, in the
// order h11 to h32, k1, k2, cx, cy, p1, p2: the homography from the plane, in units of the
// control points' rms radius about their centroid, to the picture, in units of
// half its diagonal about its centre, its last entry 1; and the lens. Rows of
// parameters that were held fixed are zero.
func (f *PlaneFit) Covariance() *mat.SymDense {
	c := mat.NewSymDense(paramCount, nil)
	c.CopySym(f.covariance)
	return c
}
