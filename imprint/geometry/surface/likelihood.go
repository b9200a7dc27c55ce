package surface

import (
	"fmt"
	"math"
	"slices"

	"gonum.org/v1/gonum/blas"
	"gonum.org/v1/gonum/blas/blas64"
	"gonum.org/v1/gonum/lapack/lapack64"
	"gonum.org/v1/gonum/mat"
	"gonum.org/v1/gonum/optimize"

	"sitspan/imprint/internal/cores"
)

// The parameters, in the order in which they are searched for, each as its logarithm. The patches' factor is
// left out where it is not asked for.
const (
	length = iota
	amplitude
	roughness
	patchFactor
)

// priors are weak, and keep the search where pads are: lengths of 8 to 150 mm, roughness of 0.003 to 0.5 mm,
// a patch's factor of 0.4 to 2.7, within about two standard deviations (assumptions).
var priors = [...]struct{ mean, u float64 }{
	length:      {math.Log(35), 0.75},
	amplitude:   {math.Log(6), 1.5},
	roughness:   {math.Log(0.04), 1.3},
	patchFactor: {0, 0.5},
}

// roughest is the standard deviation in mm of a further prior on the roughness itself, half a normal one: no
// more than 0.1 mm was found on 101 rendered pads. Without it heights that are wrong pass for rough ones, and
// points that are all mistaken for each other for a pad of 9 mm roughness.
const roughest = 0.25

// The search ends with the step of which no more is to be gained: after it the cost is within 0.001 of its
// least, and the parameters within a hundredth of what the heights leave open.
const (
	enough    = 0.01
	mostSteps = 30
)

// thin is how many times fewer heights serve to find where the search begins, at a 27th of the price a step.
const thin = 3

// usualFactor is where the search for the patches' factor begins: on 14 rendered pads it was 0.45 to 1.5, and
// 0.8 in the middle.
const usualFactor = 0.8

// likelihood is how likely the heights are under parameters that are tried.
type likelihood struct {
	trial *Surface
	at    []float64 // the parameters that all below is of; nil: of none
	known bool      // slopes and curvature are of these, too

	cost       float64
	covariance *mat.SymDense     // of the heights
	root       blas64.Triangular // U of it, U'U
	alpha      []float64         // its inverse times the heights
	by         []blas64.Symmetric
	slopes     []float64
	curvature  *mat.SymDense
	last       []float64 // where the step leads of which no more is to be gained; nil: not there yet
}

// learn finds the parameters under which the heights are likeliest, the patches' factor among them if so
// asked: by Newton's method.
func (s *Surface) learn(factor bool) error {
	s.measure()
	x, err := s.likeliest(s.start(factor))
	if err != nil {
		return err
	}
	s.take(x)
	return s.solve()
}

// start is where the search begins: at the parameters so far, or, where there are none, at those of a part of
// the heights.
func (s *Surface) start(factor bool) []float64 {
	x := []float64{math.Log(30), math.Log(5), math.Log(0.05)}
	if s.Length > 0 {
		x = []float64{math.Log(s.Length), math.Log(s.Amplitude), math.Log(s.Roughness)}
	} else if len(s.heights) >= thin*least {
		few := &Surface{mean: s.mean, PatchFactor: 1}
		for i := 0; i < len(s.heights); i += thin {
			few.heights = append(few.heights, s.heights[i])
		}
		few.measure()
		if found, err := few.likeliest(x); err == nil {
			x = found
		}
	}
	switch {
	case !factor:
	case s.PatchFactor == 1: // never learned
		x = append(x, math.Log(usualFactor))
	default:
		x = append(x, math.Log(s.PatchFactor))
	}
	return x
}

// likeliest searches from a start.
func (s *Surface) likeliest(start []float64) ([]float64, error) {
	l := newLikelihood(s, len(start))
	problem := optimize.Problem{
		Func: l.costAt,
		Grad: func(to, x []float64) { l.differentiate(x); copy(to, l.slopes) },
		Hess: func(to *mat.SymDense, x []float64) { l.differentiate(x); to.CopySym(l.curvature) },
		Status: func() (optimize.Status, error) {
			if l.last != nil {
				return optimize.Success, nil
			}
			return optimize.NotTerminated, nil
		},
	}
	found, err := optimize.Minimize(problem, start, &optimize.Settings{MajorIterations: mostSteps},
		&optimize.Newton{Linesearcher: &optimize.Backtracking{}})
	switch {
	case l.last != nil:
		return l.last, nil
	case found == nil || math.IsInf(found.F, 1):
		return nil, fmt.Errorf("surface: no parameters explain the heights (%v)", err)
	}
	return found.X, nil
}

func newLikelihood(s *Surface, parameters int) *likelihood {
	n := len(s.heights)
	l := &likelihood{
		trial:      &Surface{heights: s.heights, mean: s.mean, apart: s.apart, PatchFactor: s.PatchFactor},
		covariance: mat.NewSymDense(n, nil),
		slopes:     make([]float64, parameters),
		curvature:  mat.NewSymDense(parameters, nil),
	}
	for range parameters {
		l.by = append(l.by, mat.NewSymDense(n, nil).RawSymmetric())
	}
	return l
}

func (s *Surface) take(x []float64) {
	s.Length, s.Amplitude, s.Roughness = math.Exp(x[length]), math.Exp(x[amplitude]), math.Exp(x[roughness])
	if len(x) > patchFactor {
		s.PatchFactor = math.Exp(x[patchFactor])
	}
}

// costAt is minus the logarithm of the likelihood (Rasmussen and Williams, equation 5.8), with the priors;
// infinite where it cannot be.
func (l *likelihood) costAt(x []float64) float64 {
	if slices.Equal(l.at, x) {
		return l.cost
	}
	l.at, l.known, l.last, l.cost = slices.Clone(x), false, nil, math.Inf(1)
	l.trial.take(x)
	l.trial.covariances(l.covariance)
	// The factorisation alone: gonum's Cholesky also estimates its condition, for as long again.
	var ok bool
	if l.root, ok = lapack64.Potrf(l.covariance.RawSymmetric()); !ok {
		return l.cost
	}
	z := l.trial.centred()
	l.alpha = slices.Clone(z)
	lapack64.Potrs(l.root, blas64.General{Rows: len(z), Cols: 1, Stride: 1, Data: l.alpha})
	twice := blas64.Dot(vector(z), vector(l.alpha))
	for i := range z {
		twice += 2 * math.Log(l.root.Data[i*l.root.Stride+i])
	}
	for k, v := range x {
		twice += math.Pow((v-priors[k].mean)/priors[k].u, 2)
	}
	twice += math.Pow(l.trial.Roughness/roughest, 2)
	if !math.IsNaN(twice) {
		l.cost = twice / 2
	}
	return l.cost
}

// differentiate works the cost's slopes out (equation 5.9 there), and its curvature: the mean of what that is
// and of what is to be expected of it, which needs no product of matrices (Gilmour, Thompson and Cullis,
// Biometrics 51 (1995) 1440, the average information; from memory).
func (l *likelihood) differentiate(x []float64) {
	l.costAt(x)
	if l.known {
		return
	}
	l.known = true
	l.trial.derivatives(l.by)
	n, parameters := len(l.alpha), len(x)
	moved, solved := zeros(parameters, n), zeros(n, parameters)
	for k, by := range l.by {
		to := vector(moved.Data[k*n : (k+1)*n])
		blas64.Symv(1, by, vector(l.alpha), 0, to)
		blas64.Copy(to, blas64.Vector{N: n, Inc: parameters, Data: solved.Data[k:]})
		l.slopes[k] = -blas64.Dot(vector(l.alpha), to) / 2
	}
	lapack64.Potrs(l.root, solved)
	both := zeros(parameters, parameters)
	blas64.Gemm(blas.NoTrans, blas.NoTrans, 0.5, moved, solved, 0, both)
	lapack64.Potri(l.root) // in the root's place the inverse
	for k, by := range l.by {
		l.slopes[k] += traceOfProduct(l.root, by) / 2
		for j := k; j < parameters; j++ {
			l.curvature.SetSym(k, j, both.Data[k*parameters+j])
		}
		// A standard deviation's square grows as exp 2x, so that x's slope bends by twice itself. Half of that
		// is taken, since with all of it no step down is longer than a half.
		if k != length {
			l.curvature.SetSym(k, k, l.curvature.At(k, k)+math.Max(0, l.slopes[k]))
		}
		l.addPrior(k, (x[k]-priors[k].mean)/math.Pow(priors[k].u, 2), 1/math.Pow(priors[k].u, 2))
	}
	rough := math.Pow(l.trial.Roughness/roughest, 2)
	l.addPrior(roughness, rough, 2*rough)
	l.last = l.step(x)
}

// step is where Newton's step leads from x; nil where it gains more than enough, so that others follow.
func (l *likelihood) step(x []float64) []float64 {
	var chol mat.Cholesky
	var move mat.VecDense
	slopes := mat.NewVecDense(len(x), l.slopes)
	if !chol.Factorize(l.curvature) || chol.SolveVecTo(&move, slopes) != nil ||
		mat.Dot(&move, slopes)/2 > enough {
		return nil
	}
	next := slices.Clone(x)
	for k := range next {
		next[k] -= move.AtVec(k)
	}
	return next
}

func (l *likelihood) addPrior(k int, slope, curvature float64) {
	l.slopes[k] += slope
	l.curvature.SetSym(k, k, l.curvature.At(k, k)+curvature)
}

// traceOfProduct is that of two symmetric matrices, given by their upper triangles.
func traceOfProduct(a blas64.Triangular, b blas64.Symmetric) (sum float64) {
	for i := range a.N {
		x, y := a.Data[i*a.Stride:][i:a.N], b.Data[i*b.Stride:][i:b.N]
		sum += 2*blas64.Dot(vector(x), vector(y)) - x[0]*y[0]
	}
	return sum
}

// derivatives are the covariances' by each parameter, mm^2.
func (s *Surface) derivatives(by []blas64.Symmetric) {
	n, square, like := len(s.heights), s.Amplitude*s.Amplitude, likenessOver(s.Length)
	cores.Each(n, func(i int) {
		byLength, byAmplitude := by[length].Data[i*n:], by[amplitude].Data[i*n:]
		for j := i; j < n; j++ {
			byLength[j] = square * alikeByLength(s.apart[i*n+j], s.Length)
			byAmplitude[j] = 2 * square * like.at(s.apart[i*n+j])
		}
		by[roughness].Data[i*n+i] = 2 * s.Roughness * s.Roughness
		if len(by) > patchFactor {
			for j := i; j < n; j++ {
				by[patchFactor].Data[i*n+j] = 2 * s.noiseOfPatches(s.heights[i], s.heights[j], s.apart[i*n+j])
			}
		}
	})
}

func zeros(rows, columns int) blas64.General {
	return blas64.General{Rows: rows, Cols: columns, Stride: columns, Data: make([]float64, rows*columns)}
}
