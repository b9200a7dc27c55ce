package homography

import (
	"errors"
	"fmt"
	"math"

	"gonum.org/v1/gonum/mat"
)

// Sight is one photo's view of a point below the plane.
type Sight struct {
	Camera     *Camera
	Seen       PlanePoint  // where its line of sight meets the frame's plane, mm
	Covariance Covariance2 // of Seen, mm^2: the pixel's and the fit's
}

// Depth is an estimate of a depth below the frame's plane in mm. A U of 0 or
// +Inf means that nothing is known beforehand.
type Depth struct{ Millimetres, U float64 }

// Triangulated is a point solved from several photos of one frame.
type Triangulated struct {
	Point PlanePoint // mm
	Depth float64    // below the plane, mm
	// Covariance of (X, Y, depth), mm^2.
	Covariance [3][3]float64
	// Rays tell per photo how far its line of sight passes the point.
	Rays []RayResidual
	// Misfit is the rays' chi-square over DegreesOfFreedom: about 1 when the
	// photos agree within their claimed uncertainty.
	Misfit           float64
	DegreesOfFreedom int
}

// UDepth returns the standard uncertainty of the depth in mm.
func (t Triangulated) UDepth() float64 { return math.Sqrt(t.Covariance[2][2]) }

// RayResidual is what one line of sight leaves at the point's depth.
type RayResidual struct {
	DX, DY float64 // mm, seen minus solved
	// Normalised is the residual's length in standard uncertainties of the
	// sight (the root of its chi-square with 2 degrees of freedom).
	Normalised float64
}

// ErrUnsolvable says that the sights do not determine the depth: all from one
// place, and nothing known of it beforehand.
var ErrUnsolvable = errors.New("the photos do not determine the depth")

// Triangulate solves one point below the plane from several photos of the same
// frame. Equation (1) is linear in the point and its depth:
//
//	X + (C - X') d / H = X'
//
// Two such rows per photo are weighed by the sight's covariance, which
// includes the camera's: its error counts in proportion to d / H. The focal
// length, which all photos of one phone share, is one more unknown, so that
// many photos do not average its error away; its relative uncertainty is the
// largest among the cameras. A prior depth is one more row.
func Triangulate(sights []Sight, prior Depth) (Triangulated, error) {
	if err := checkSights(sights, prior); err != nil {
		return Triangulated{}, err
	}
	solved := [3]float64{2: prior.Millimetres}
	var out Triangulated
	// The weights and the focal length's effect depend on the depth. They are
	// off by d/H at most to begin with, so a few rounds settle them.
	for range 6 {
		normal, right := mat.NewSymDense(4, nil), mat.NewVecDense(4, nil)
		for _, s := range sights {
			s.addTo(normal, right, solved[2])
		}
		addPriors(normal, right, sights, prior)
		var chol mat.Cholesky
		answer := mat.NewVecDense(4, nil)
		if !chol.Factorize(normal) || chol.Cond() > 1e14 || chol.SolveVecTo(answer, right) != nil {
			return Triangulated{}, fmt.Errorf("triangulation of %d sights: %w", len(sights), ErrUnsolvable)
		}
		solved = [3]float64{answer.AtVec(0), answer.AtVec(1), answer.AtVec(2)}
		inverse := mat.NewSymDense(4, nil)
		if err := chol.InverseTo(inverse); err != nil {
			return Triangulated{}, fmt.Errorf("triangulation of %d sights: %w", len(sights), ErrUnsolvable)
		}
		out = triangulated(sights, answer, inverse)
	}
	out.DegreesOfFreedom = 2*len(sights) - 3
	if prior.known() {
		out.DegreesOfFreedom++
	}
	for _, r := range out.Rays {
		out.Misfit += r.Normalised * r.Normalised
	}
	if prior.known() {
		out.Misfit += math.Pow((out.Depth-prior.Millimetres)/prior.U, 2)
	}
	if out.DegreesOfFreedom > 0 {
		out.Misfit /= float64(out.DegreesOfFreedom)
	}
	return out, nil
}

func (d Depth) known() bool { return d.U > 0 && !math.IsInf(d.U, 1) }

func checkSights(sights []Sight, prior Depth) error {
	if len(sights) == 0 || (len(sights) == 1 && !prior.known()) {
		return fmt.Errorf("triangulation of %d sights: %w", len(sights), ErrUnsolvable)
	}
	if math.IsNaN(prior.Millimetres) || math.IsInf(prior.Millimetres, 0) || !(prior.U >= 0) {
		return fmt.Errorf("triangulation: found a prior depth of %v mm with u = %v mm, need numbers",
			prior.Millimetres, prior.U)
	}
	for i, s := range sights {
		if s.Camera == nil || !(s.Camera.Height > 0) {
			return fmt.Errorf("triangulation: sight %d has no camera above the plane", i)
		}
		if d := Jacobian2(s.Covariance).Determinant(); !(d > 0) || !(s.Covariance[0][0] > 0) ||
			math.IsNaN(s.Seen.X+s.Seen.Y) {
			return fmt.Errorf("triangulation: sight %d at (%v, %v) mm needs numbers and a covariance", i, s.Seen.X,
				s.Seen.Y)
		}
	}
	return nil
}

// rows returns the two rows by (X, Y, depth, relative focal length) for a
// depth, the direction (C - X')/H, and the inverse of the rows' covariance.
func (s Sight) rows(depth float64) (rows [2][4]float64, weight Jacobian2) {
	c, h := s.Camera, s.Camera.Height
	slope := [2]float64{(c.Position.X - s.Seen.X) / h, (c.Position.Y - s.Seen.Y) / h}
	gain := depth / h
	var covariance Covariance2
	for i := range 2 {
		// d(row)/d(camera): -(d/H) for its own coordinate of C, and
		// +(C - X') d / H^2 for H; the residual is X' - X - slope d.
		rows[i][i], rows[i][2] = 1, slope[i]
		rows[i][3] = gain * (c.ByFocal[i] - slope[i]*c.ByFocal[2])
		for j := range 2 {
			position := [3]float64{2: -slope[i] * gain}
			position[i] = gain
			other := [3]float64{2: -slope[j] * gain}
			other[j] = gain
			covariance[i][j] = (1+gain)*(1+gain)*s.Covariance[i][j] + c.withoutFocal(position, other)
		}
	}
	return rows, Jacobian2(covariance).inverse()
}

// withoutFocal is g' C h with the camera's covariance less what the focal
// length, an unknown of its own in Triangulate, contributes to it.
func (c *Camera) withoutFocal(g, h [3]float64) float64 {
	u := c.Focal.relative()
	sum := 0.0
	for i := range 3 {
		for j := range 3 {
			sum += g[i] * (c.Covariance[i][j] - u*u*c.ByFocal[i]*c.ByFocal[j]) * h[j]
		}
	}
	return sum
}

// addTo adds a sight to the normal equations.
func (s Sight) addTo(normal *mat.SymDense, right *mat.VecDense, depth float64) {
	rows, weight := s.rows(depth)
	seen := [2]float64{s.Seen.X, s.Seen.Y}
	for a := range 4 {
		for i := range 2 {
			for j := range 2 {
				right.SetVec(a, right.AtVec(a)+rows[i][a]*weight[i][j]*seen[j])
			}
		}
		for b := a; b < 4; b++ {
			sum := normal.At(a, b)
			for i := range 2 {
				for j := range 2 {
					sum += rows[i][a] * weight[i][j] * rows[j][b]
				}
			}
			normal.SetSym(a, b, sum)
		}
	}
}

// addPriors adds the rows of the depth's prior and of the focal length's.
func addPriors(normal *mat.SymDense, right *mat.VecDense, sights []Sight, prior Depth) {
	if prior.known() {
		w := 1 / (prior.U * prior.U)
		normal.SetSym(2, 2, normal.At(2, 2)+w)
		right.SetVec(2, right.AtVec(2)+w*prior.Millimetres)
	}
	largest := 1e-6 // exact cameras: hold it
	for _, s := range sights {
		largest = math.Max(largest, s.Camera.Focal.relative())
	}
	normal.SetSym(3, 3, normal.At(3, 3)+1/(largest*largest))
}

// triangulated reads the solution and the residuals off.
func triangulated(sights []Sight, answer *mat.VecDense, inverse *mat.SymDense) Triangulated {
	out := Triangulated{Point: PlanePoint{answer.AtVec(0), answer.AtVec(1)}, Depth: answer.AtVec(2)}
	for i := range 3 {
		for j := range 3 {
			out.Covariance[i][j] = inverse.At(i, j)
		}
	}
	for _, s := range sights {
		rows, weight := s.rows(out.Depth)
		residual := [2]float64{s.Seen.X, s.Seen.Y}
		for i := range 2 {
			for a := range 4 {
				residual[i] -= rows[i][a] * answer.AtVec(a)
			}
		}
		chi := 0.0
		for i := range 2 {
			for j := range 2 {
				chi += residual[i] * weight[i][j] * residual[j]
			}
		}
		out.Rays = append(out.Rays, RayResidual{residual[0], residual[1], math.Sqrt(chi)})
	}
	return out
}
