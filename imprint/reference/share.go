package reference

import (
	"math"

	"gonum.org/v1/gonum/mat"

	"sitspan/imprint/homography"
)

// Influence is what a reference's pose depends on.
type Influence int

// The influences, independent of one another.
const (
	Scatter     Influence = iota // the features as they were found in the picture, when all else is known
	Size                         // of a card
	Edges                        // of a card: rounding, wall and shadow
	Graduation                   // of a rule
	Thickness                    // of a card or a rule: its face lies over the imprint's plane
	Lens                         // its distortion and its axis
	FocalLength                  // of the camera
)

// Share is what one influence gives the standard uncertainty of a distance.
type Share struct {
	Of Influence
	U  float64 // mm
}

// SpacingUncertainty splits the standard uncertainty of the distance between the points that two pixels show
// into its influences, independent of one another: what each adds is what falls away when it is taken as
// known, one after another. The last is what remains: the reference's features as they were found in the
// picture.
func (s *Pose) SpacingUncertainty(left, right homography.Pixel) []Share {
	gradient := s.gradient(func(p []float64) float64 {
		return s.seen(p, left).Distance(s.seen(p, right))
	})
	free := make([]bool, s.count)
	for i := range free {
		free[i] = true
	}
	var shares []Share
	before := s.variance(gradient, free)
	for _, g := range s.groups {
		for _, i := range g.of {
			free[i] = false
		}
		after := s.variance(gradient, free)
		shares = append(shares, Share{g.influence, math.Sqrt(math.Max(0, before-after))})
		before = after
	}
	return append(shares, Share{Scatter, math.Sqrt(before)})
}

// gradient is that of a quantity by the parameters, by differences over a tenth of a standard uncertainty.
func (s *Pose) gradient(f func(p []float64) float64) []float64 {
	g := make([]float64, s.count)
	p := append([]float64(nil), s.p...)
	for i := range g {
		d := 0.1 / math.Sqrt(s.info.At(i, i))
		p[i] = s.p[i] + d
		up := f(p)
		p[i] = s.p[i] - d
		g[i] = (up - f(p)) / (2 * d)
		p[i] = s.p[i]
	}
	return g
}

// variance is gradient' (information of the free parameters)^-1 gradient (JCGM 100, equation 13), the rest
// being known.
func (s *Pose) variance(gradient []float64, free []bool) float64 {
	var keep []int
	for i, f := range free {
		if f {
			keep = append(keep, i)
		}
	}
	c, err := s.covariance(keep)
	if err != nil {
		return math.Inf(1)
	}
	var v float64
	for a, i := range keep {
		for b, k := range keep {
			v += gradient[i] * gradient[k] * c.At(a, b)
		}
	}
	return v
}

// covariance is that of the parameters kept, the others being known.
func (s *Pose) covariance(keep []int) (*mat.SymDense, error) {
	n := len(keep)
	// Scaled to a unit diagonal: the parameters' units differ by orders of magnitude.
	scaled := mat.NewSymDense(n, nil)
	root := func(i int) float64 { return math.Sqrt(s.info.At(i, i)) }
	for a, i := range keep {
		for b := a; b < n; b++ {
			k := keep[b]
			scaled.SetSym(a, b, s.info.At(i, k)/(root(i)*root(k)))
		}
	}
	var chol mat.Cholesky
	if !chol.Factorize(scaled) {
		return nil, ErrBeyondHorizon
	}
	c := mat.NewSymDense(n, nil)
	if err := chol.InverseTo(c); err != nil {
		return nil, err
	}
	for a, i := range keep {
		for b := a; b < n; b++ {
			k := keep[b]
			c.SetSym(a, b, c.At(a, b)/(root(i)*root(k)))
		}
	}
	return c, nil
}

// Camera is where the picture was taken from, in the plane's axes.
func (s *Pose) Camera() *homography.Camera {
	place := func(p []float64) [3]float64 {
		from := s.eye(p).from
		return [3]float64{from[0], from[1], -from[2]}
	}
	at, r := place(s.p), s.turned(s.p)
	f := math.Exp(s.p[logFocal])
	c := &homography.Camera{Position: homography.PlanePoint{X: at[0], Y: at[1]}, Height: at[2], Rotation: r,
		TiltDegrees: math.Acos(math.Min(1, r[8])) * 180 / math.Pi}
	all := make([]int, s.count)
	for i := range all {
		all[i] = i
	}
	cov, err := s.covariance(all)
	if err != nil {
		return nil
	}
	c.Focal = homography.Focal{Pixels: f, U: f * math.Sqrt(cov.At(logFocal, logFocal))}
	var g [3][]float64
	for i := range g {
		g[i] = s.gradient(func(p []float64) float64 { return place(p)[i] })
		for a := range all { // regression on ln f: what a change of the focal length drags along
			c.ByFocal[i] += g[i][a] * cov.At(a, logFocal) / cov.At(logFocal, logFocal)
		}
	}
	for i := range g {
		for k := range g {
			for a := range all {
				for b := range all {
					c.Covariance[i][k] += g[i][a] * g[k][b] * cov.At(a, b)
				}
			}
		}
	}
	return c
}
