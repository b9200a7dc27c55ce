package surface

import (
	"errors"
	"fmt"
	"math"

	"gonum.org/v1/gonum/blas/blas64"
	"gonum.org/v1/gonum/mat"

	"sitspan/imprint/internal/cores"
)

// Height is one point of the relief.
type Height struct {
	X, Y, Z float64 // mm, z down
	U       float64 // standard uncertainty of Z that no other height shares, mm
	UX, UY  float64 // likewise of its place; a place that is wrong on a slope is a wrong height
	// Patch is the radius in mm of the disc over which the height was matched, 0 where it is a point of its own.
	Patch float64
}

// ErrTooFew says that there are too few heights to lay a surface through.
var ErrTooFew = errors.New("too few heights")

// least is the number of heights below which no surface is laid: three parameters and a plane want some for
// themselves.
const least = 30

// Surface is a smooth surface with its uncertainty.
type Surface struct {
	heights []Height // that were kept
	kept    []int    // their indices as given
	// The process: correlation length and amplitude (standard deviation), and the roughness that every height
	// has beside its own uncertainty, all mm.
	Length, Amplitude, Roughness float64
	// PatchFactor is by how much patches' errors are larger than their own uncertainties.
	PatchFactor float64
	Cut         []int // indices of the heights that the others contradict

	apart []float64 // mm between each two heights, row by row
	chol  mat.Cholesky
	alpha []float64
	plane [3]float64 // what the heights say of the plane: mm, and mm/mm along x and y
	mean  float64    // of all heights, mm

	searched *Grid // for the deepest points: the surface's grids share its cells
}

// The plane that the relief departs from is a priori unknown: its height and its slopes have these standard
// deviations.
const (
	planeU = 30.0 // mm
	slopeU = 0.3  // mm/mm
)

// covariance of the surface at two places, mm^2.
func (s *Surface) covariance(ax, ay, bx, by float64) float64 {
	dx, dy := ax-bx, ay-by
	return s.Amplitude*s.Amplitude*alike(math.Sqrt(dx*dx+dy*dy), s.Length) + planeU*planeU +
		slopeU*slopeU*(ax*bx+ay*by)
}

// Fit lays the surface: its parameters by the largest likelihood (Rasmussen and Williams, equation 5.8), the
// heights cut that lie beyond what the others and chance explain. like is a surface through other heights of
// the same pad, whose parameters are begun with, or nil.
func Fit(heights []Height, like *Surface) (*Surface, error) {
	if len(heights) < least {
		return nil, fmt.Errorf("%w: %d of %d", ErrTooFew, len(heights), least)
	}
	s := &Surface{}
	for i, h := range heights {
		if !(h.U > 0) || math.IsNaN(h.X+h.Y+h.Z) || math.IsInf(h.X+h.Y+h.Z, 0) {
			return nil, fmt.Errorf("surface: height %d is %+v, need numbers and a positive uncertainty", i, h)
		}
		s.kept = append(s.kept, i)
		s.mean += h.Z / float64(len(heights))
	}
	s.heights = append(s.heights, heights...)
	if err := s.begin(like); err != nil {
		return nil, err
	}
	if err := s.cutAll(); err != nil {
		return nil, err
	}
	// Only now the patches' factor: before, wrong matches would pass for its noise. What is wrong spoils the
	// parameters by which the rest of it would be found: so in turns, until nothing more is cut.
	patched := s.patched()
	for patched || len(s.Cut) > 0 {
		cut := len(s.Cut)
		if err := s.learn(patched); err != nil {
			return nil, err
		}
		if cut == 0 { // nothing was wrong, so nothing was spoiled
			break
		}
		if err := s.cutAll(); err != nil {
			return nil, err
		}
		if len(s.Cut) == cut {
			break
		}
	}
	return s, nil
}

// cutAll takes out what the others contradict, until nothing is.
func (s *Surface) cutAll() error {
	for range 8 {
		before := len(s.heights)
		s.cutWorst()
		if len(s.heights) == before {
			return nil
		}
		if len(s.heights) < least {
			return fmt.Errorf("%w: %d of %d after those that contradict the others", ErrTooFew, len(s.heights), least)
		}
		if err := s.solve(); err != nil {
			return err
		}
	}
	return nil
}

// begin finds first parameters, or takes those of a surface like it.
func (s *Surface) begin(like *Surface) error {
	s.PatchFactor = 1
	if like == nil {
		return s.learn(false)
	}
	s.Length, s.Amplitude = like.Length, like.Amplitude
	s.Roughness, s.PatchFactor = like.Roughness, like.PatchFactor
	s.measure()
	return s.solve()
}

// measure works the distances between the heights out.
func (s *Surface) measure() {
	n := len(s.heights)
	s.apart = make([]float64, n*n)
	for i, a := range s.heights {
		for j := i; j < n; j++ {
			s.apart[i*n+j] = math.Hypot(a.X-s.heights[j].X, a.Y-s.heights[j].Y)
		}
	}
}

// covariances of the heights, mm^2.
func (s *Surface) covariances(to *mat.SymDense) {
	raw := to.RawSymmetric()
	cores.Each(len(s.heights), func(i int) { s.covariancesOf(i, raw.Data[i*raw.Stride:]) })
}

// covariancesOf are those of a height with itself and all that follow, in their columns of the row.
func (s *Surface) covariancesOf(i int, row []float64) {
	n, a := len(s.heights), &s.heights[i]
	apart, square, like := s.apart[i*n:], s.Amplitude*s.Amplitude, likenessOver(s.Length)
	for j := i; j < n; j++ {
		b := &s.heights[j]
		row[j] = square*like.at(apart[j]) + planeU*planeU + slopeU*slopeU*(a.X*b.X+a.Y*b.Y)
		if a.Patch > 0 && b.Patch > 0 {
			row[j] += s.sharedByPatches(*a, *b, apart[j])
		}
	}
	row[i] += s.Roughness * s.Roughness
	if a.Patch == 0 {
		row[i] += a.U * a.U
	}
}

func (s *Surface) centred() []float64 {
	c := make([]float64, len(s.heights))
	for i, h := range s.heights {
		c[i] = h.Z - s.mean
	}
	return c
}

// solve factorises the covariance of the heights.
func (s *Surface) solve() error {
	k := mat.NewSymDense(len(s.heights), nil)
	s.covariances(k)
	if !s.chol.Factorize(k) {
		return errors.New("surface: the heights' covariance is singular")
	}
	var alpha mat.VecDense
	if err := s.chol.SolveVecTo(&alpha, mat.NewVecDense(len(s.heights), s.centred())); err != nil {
		return fmt.Errorf("surface: %w", err)
	}
	s.alpha, s.plane, s.searched = alpha.RawVector().Data, [3]float64{}, nil
	for i, w := range s.alpha {
		s.plane[0] += planeU * planeU * w
		s.plane[1] += slopeU * slopeU * w * s.heights[i].X
		s.plane[2] += slopeU * slopeU * w * s.heights[i].Y
	}
	return nil
}

// A height is cut that lies off what the others predict by so many standard deviations, and by so many mm. Of
// 400 normal ones the worst lies beyond 4.5 once in 370 surfaces. But no relief is alike everywhere: at the
// rim of a pressed ball or of a flat, true heights are 0.4 to 1 mm off what their neighbours predict, and
// cutting them moved the bottoms beside them by a millimetre (34 rendered pads). Dots that were mistaken for
// each other are off by more.
const (
	beyond     = 4.5
	farthestMM = 1.2
)

// cutWorst takes out the heights whose leave-one-out residual (Rasmussen and Williams, equation 5.12) is
// beyond chance, the worst first and none beside one just taken out, since a wrong height makes its
// neighbours look wrong.
func (s *Surface) cutWorst() {
	alone, ok := s.precisions()
	if !ok {
		return
	}
	var gone []int
	for {
		worst, most := -1, beyond
		for i, h := range s.heights {
			off := math.Abs(s.alpha[i]) / alone[i] // mm
			z := off * math.Sqrt(alone[i])
			if z > most && off > farthestMM && !s.near(h, gone) {
				worst, most = i, z
			}
		}
		if worst < 0 {
			break
		}
		gone = append(gone, worst)
	}
	s.remove(gone)
}

// precisions are the diagonal of the inverse of the heights' covariance U'U, 1/mm^2: of U^-1 U^-T.
func (s *Surface) precisions() (diagonal []float64, ok bool) {
	var inverse mat.TriDense
	if inverse.InverseTri(s.chol.RawU()) != nil {
		return nil, false
	}
	n := len(s.heights)
	diagonal = make([]float64, n)
	for i, raw := 0, inverse.RawTriangular(); i < n; i++ {
		row := vector(raw.Data[i*raw.Stride:][i:n])
		diagonal[i] = blas64.Dot(row, row)
	}
	return diagonal, true
}

func (s *Surface) near(h Height, list []int) bool {
	for _, k := range list {
		if math.Hypot(h.X-s.heights[k].X, h.Y-s.heights[k].Y) < s.Length/2 {
			return true
		}
	}
	return false
}

func (s *Surface) remove(gone []int) {
	out := map[int]bool{}
	for _, k := range gone {
		out[k] = true
		s.Cut = append(s.Cut, s.kept[k])
	}
	var heights []Height
	var kept []int
	for i, h := range s.heights {
		if !out[i] {
			heights, kept = append(heights, h), append(kept, s.kept[i])
		}
	}
	s.heights, s.kept = heights, kept
	s.measure()
}

// Unrelated tells whether the heights say nothing of each other: their likeness has fallen to a half from one
// to the next, as far as these are apart on average. So heights lie that were mistaken for each other: of two
// pads' chance dots it was 0 and 0.4, of 101 pads' true ones never below 0.8 (rendered).
func (s *Surface) Unrelated() bool {
	var least, most [2]float64
	for i, h := range s.heights {
		for k, v := range [2]float64{h.X, h.Y} {
			if i == 0 || v < least[k] {
				least[k] = v
			}
			if i == 0 || v > most[k] {
				most[k] = v
			}
		}
	}
	apart := math.Sqrt((most[0] - least[0]) * (most[1] - least[1]) / float64(len(s.heights)))
	return alike(apart, s.Length) < 1.0/2
}

// Kept are the indices of the heights that the surface rests on, as they were given.
func (s *Surface) Kept() []int { return s.kept }

// At is the surface's height at a place, mm.
func (s *Surface) At(x, y float64) float64 {
	z, like := 0.0, likenessOver(s.Length)
	for i, w := range s.alpha {
		h := &s.heights[i]
		dx, dy := x-h.X, y-h.Y
		z += w * like.at(math.Sqrt(dx*dx+dy*dy))
	}
	// the covariance's plane, summed up beforehand: it is the same for all places
	return s.mean + s.Amplitude*s.Amplitude*z + s.plane[0] + s.plane[1]*x + s.plane[2]*y
}

// UAt is the standard uncertainty of the surface's own height there, mm: what the heights leave open, the
// cameras' share not counted.
func (s *Surface) UAt(x, y float64) float64 {
	n := len(s.heights)
	k := mat.NewVecDense(n, nil)
	for i, h := range s.heights {
		k.SetVec(i, s.covariance(x, y, h.X, h.Y))
	}
	var solved mat.VecDense
	if s.chol.SolveVecTo(&solved, k) != nil {
		return math.Inf(1)
	}
	return math.Sqrt(math.Max(0, s.covariance(x, y, x, y)-mat.Dot(k, &solved)))
}
