package relief

import (
	"errors"
	"fmt"
	"math"

	"gonum.org/v1/gonum/mat"
)

// ShadingStart is where the search of the shading model begins: a reading of the net, or any other guess.
type ShadingStart struct {
	Left, Right Point      // as seen on the frame's plane, mm
	Depth       [2]float64 // of the left and the right bottom below the frame's plane, mm
	UDepth      [2]float64 // their standard uncertainties, mm
}

// ErrNoBottom says that the fitted surface has no two bottoms.
var ErrNoBottom = errors.New("the shading fits no two dents")

// Bottom is a deepest point of the fitted surface, basin included.
type Bottom struct {
	At    Point   // straight above the bottom, mm: corrected for parallax with Depth
	Depth float64 // below the frame's plane, mm
	// of the dent itself: ln(long/short axis) times (cos 2a, sin 2a), a the long axis's direction
	Oblong    [2]float64
	VarOblong float64 // of that ln
}

// Shading is what equation (2) says of an imprint: a second opinion beside the net's.
//
// From one photo it is the weaker opinion. On 37 photos with known truth, on half of which the constants here
// were chosen, it read the distance on the plane to 1.7 mm rms where the net of that time read 1.0, well
// under window light and poorly under a ceiling; weighing both gained nothing. So it checks: docs/evidence.md
// says how often it contradicts sound and misread photos. From several photos it tells the depths better than
// the net does.
//
// The covariance holds the misfit, an error per patch of pad, not per cell (see patchAlone), and the priors.
type Shading struct {
	Left, Right Bottom
	// Cov is the covariance in mm^2 of left x, left y, right x, right y, left depth, right depth.
	Cov [6][6]float64
	// Ratio is the right dent's depth over the left one's, basin apart; ULnRatio its logarithm's standard
	// uncertainty.
	Ratio, ULnRatio float64
	// Misfit is each photo's root mean square residual, ln of light.
	Misfit []float64
	// Converged says that the search has settled; otherwise the numbers are where it stopped.
	Converged bool
}

// FitShading fits the shading model (equation (2)) to one window,
//
//	log I = log B + p z_x + q z_y + s (z_x^2 + z_y^2) + r z + k ((x - Cx) z_x + (y - Cy) z_y + 2 z) / H
//
// with z two oblong dents in a shared broad basin and the lens at (Cx, Cy, H). p, q, s, r, k and the
// background's coefficients are projected out; only the shape is searched, with weak priors (beliefs). Errors
// wrap ErrNoWindow, ErrNoBottom or those of leastsquares.
func FitShading(w Window, start ShadingStart) (Shading, error) {
	return FitShadingTogether([]Window{w}, []ShadingStart{start})
}

// FitShadingTogether fits one surface to several windows of one imprint, each with its own light and view and
// its own start. What is painted on the pad is shared, so it all but cancels, and the surface gets free bumps
// beside its two dents. Seen from several places the depths are fitted too; those of the starts, taken as one
// observation, are their prior.
func FitShadingTogether(ws []Window, starts []ShadingStart) (Shading, error) {
	if len(ws) == 0 || len(ws) != len(starts) {
		return Shading{}, fmt.Errorf("shading: %d windows with %d starts", len(ws), len(starts))
	}
	var looks []*look
	for i, w := range ws {
		if err := starts[i].check(); err != nil {
			return Shading{}, fmt.Errorf("shading: start %d: %w", i+1, err)
		}
		l, err := newLook(w)
		if err != nil {
			return Shading{}, fmt.Errorf("shading: photo %d: %w", i+1, err)
		}
		looks = append(looks, l)
	}
	f := newShadingFit(meanStart(looks, starts))
	fit, err := f.search()
	if err != nil {
		return Shading{}, fmt.Errorf("shading: %w", err)
	}
	s, err := f.conclude(fit.Parameters, fit.Unscaled)
	s.Converged = fit.Converged
	return s, err
}

// check refuses what no search can begin with.
func (s ShadingStart) check() error {
	for _, v := range []float64{s.Left.X, s.Left.Y, s.Right.X, s.Right.Y} {
		if !(math.Abs(v) < 200) {
			return fmt.Errorf("a centre at %v, %v: need places on the frame's plane", s.Left, s.Right)
		}
	}
	for k := range 2 {
		if !(s.Depth[k] >= leastDepth && s.Depth[k] < mostDepth) || !(s.UDepth[k] > 0) ||
			math.IsInf(s.UDepth[k], 1) {
			return fmt.Errorf("depth %v with u %v mm: need %v to %v with a positive u", s.Depth[k], s.UDepth[k],
				leastDepth, mostDepth)
		}
	}
	return nil
}

const (
	leastDepth = 1.0 // mm
	mostDepth  = 60.0
)

// meanStart carries the starts to the pad by equation (1) and averages them. The depths' uncertainties are
// averaged too: starts err alike.
func meanStart(looks []*look, starts []ShadingStart) (_ []*look, centres [2]Point, depth, u [2]float64) {
	n := float64(len(starts))
	for _, s := range starts {
		for k := range 2 {
			depth[k] += s.Depth[k] / n
			u[k] += s.UDepth[k] / n
		}
	}
	for i, s := range starts {
		for k, p := range []Point{s.Left, s.Right} {
			q := looks[i].view.below(p, depth[k])
			centres[k].X += q.X / n
			centres[k].Y += q.Y / n
		}
	}
	return looks, centres, depth, u
}

// conclude reads the bottoms off the fitted surface and carries the parameters' covariance to them.
func (f *shadingFit) conclude(t []float64, cov *mat.SymDense) (s Shading, err error) {
	surface := newSurface(t, f.bumps)
	by := mat.NewDense(6, len(t), nil)
	for k, b := range []*Bottom{&s.Left, &s.Right} {
		at, h, found := surface.bottom(Point{t[2*k], t[2*k+1]})
		if !found {
			return s, fmt.Errorf("shading: %w", ErrNoBottom)
		}
		b.At, b.Depth = at, h.d
		f.bottomBy(by, k, &surface, at, h)
		b.Oblong, b.VarOblong = surface.oblong(k, cov)
	}
	if distance(s.Left.At, s.Right.At) < closest {
		return s, fmt.Errorf("shading: %w: both bottoms lie at %.0f, %.0f mm", ErrNoBottom, s.Left.At.X,
			s.Left.At.Y)
	}
	var half, full mat.Dense
	half.Mul(by, cov)
	full.Mul(&half, by.T())
	for i := range s.Cov {
		for j := range s.Cov[i] {
			s.Cov[i][j] = (full.At(i, j) + full.At(j, i)) / 2
		}
	}
	s.Ratio, s.ULnRatio = math.Exp(t[lnRatio]), math.Sqrt(cov.At(lnRatio, lnRatio))
	for _, l := range f.looks {
		s.Misfit = append(s.Misfit, l.misfit)
	}
	return s, nil
}

const closest = 20.0 // mm between two bottoms, below which they are one

// bottomBy is how a bottom moves with the parameters: where the gradient g vanishes, dX = -Hessian^-1 dg, and
// its depth changes as the surface there does.
func (f *shadingFit) bottomBy(by *mat.Dense, side int, s *surface, at Point, h hump) {
	s.derivatives(f.slopes, at.X, at.Y)
	det := h.xx*h.yy - h.xy*h.xy
	for j, d := range f.slopes {
		by.Set(2*side, j, -(h.yy*d.x-h.xy*d.y)/det)
		by.Set(2*side+1, j, -(h.xx*d.y-h.xy*d.x)/det)
		by.Set(4+side, j, d.d)
	}
}

// oblong is a dent's, as Side.Oblong, with the variance of ln(long/short).
func (s *surface) oblong(k int, cov *mat.SymDense) (o [2]float64, v float64) {
	d := s.sides[k]
	ln := math.Log(d.along / d.across)
	sin, cos := math.Sincos(2 * d.direction(s.t))
	v = cov.At(lnOblong, lnOblong) + cov.At(halfOblong, halfOblong) + 2*d.side*cov.At(lnOblong, halfOblong)
	return [2]float64{ln * cos, ln * sin}, v
}
