package leastsquares

import (
	"fmt"
	"math"

	"gonum.org/v1/gonum/floats"
	"gonum.org/v1/gonum/mat"
)

const (
	// startDamping is Marquardt's lambda before the first step (Madsen,
	// Nielsen and Tingleff, Methods for Non-Linear Least Squares Problems,
	// 2004, section 3.2: 1e-3 for a fair start).
	startDamping = 1e-3
	// leastStep is the relative step below which floating point leaves nothing
	// to gain; leastFullStep the same for the undamped step, which near an exact
	// fit is the residuals' own rounding times the problem's condition.
	leastStep     = 1e-15
	leastFullStep = 1e-12
	// rounding is the relative noise allowed in a sum of squares: steps that
	// promise less than this cannot be judged by the sum and are taken when
	// they do not raise it by more.
	rounding = 1e-13
	// stalledOffset is the relative offset at which a search that can step no
	// further counts as converged (Bates and Watts 1981 recommend 0.001).
	stalledOffset = 1e-3
	// worstCondition is the condition number of the scaled normal matrix
	// beyond which its inverse keeps no digit worth having: 1/(45 epsilon).
	worstCondition = 1e14
)

// search is the state of one minimisation; all memory is taken in newSearch.
type search struct {
	problem Problem
	options Options

	at, trial                 []float64   // parameters
	residuals, trialResiduals []float64   // at those parameters
	weights, weighted         []float64   // Huber's; a column times its weights
	columns                   [][]float64 // columns[j] = d residuals / d at[j]

	cost     float64       // half the sum of squares, or Huber's loss
	gradient []float64     // J^T W r, divided by root
	slope    *mat.VecDense // the same memory, for the solver
	normal   *mat.SymDense // J^T W J, divided by root_i root_j
	damped   *mat.SymDense
	root     []float64 // square root of the largest diagonal of J^T W J so far
	chol     mat.Cholesky
	step     *mat.VecDense

	damping, growth float64 // Marquardt's lambda, Nielsen's nu
	iterations      int
	offset          float64
}

func newSearch(problem Problem, start []float64, options Options) *search {
	m, n := problem.Count, len(start)
	block := make([]float64, m*(n+4))
	cut := func() []float64 {
		var piece []float64
		piece, block = block[:m:m], block[m:]
		return piece
	}
	s := &search{
		problem: problem, options: options,
		at: append([]float64(nil), start...), trial: make([]float64, n),
		residuals: cut(), trialResiduals: cut(), weights: cut(), weighted: cut(),
		columns: make([][]float64, n), gradient: make([]float64, n), root: make([]float64, n),
		normal: mat.NewSymDense(n, nil), damped: mat.NewSymDense(n, nil), step: mat.NewVecDense(n, nil),
		damping: startDamping, growth: 2,
	}
	for j := range s.columns {
		s.columns[j] = cut()
	}
	s.slope = mat.NewVecDense(n, s.gradient)
	return s
}

// descend steps downhill until the relative offset is within tolerance, and
// leaves the Jacobian of the last point behind.
func (s *search) descend() (converged bool, err error) {
	s.problem.Residuals(s.residuals, s.at)
	if i := firstNotFinite(s.residuals); i >= 0 {
		return false, fmt.Errorf("%w: residual %d is %v at the start", ErrNotFinite, i, s.residuals[i])
	}
	s.cost = s.loss(s.residuals)
	for ; ; s.iterations++ {
		if err := s.linearise(); err != nil {
			return false, err
		}
		if s.arrived() {
			return true, nil
		}
		if s.iterations == s.options.MaxIterations {
			return false, nil
		}
		if !s.advance() {
			return s.offset <= stalledOffset, nil
		}
	}
}

// linearise takes the derivatives at the present parameters and from them the
// gradient and the normal matrix, scaled to a diagonal of at most one (the
// largest so far, after Moré, Lecture Notes in Mathematics 630 (1978) 105-116).
func (s *search) linearise() error {
	s.differentiate()
	s.weigh()
	s.gram(s.options.Huber > 0)
	for j := range s.root {
		d := s.normal.At(j, j)
		if math.IsNaN(d) || math.IsInf(d, 0) {
			return fmt.Errorf("%w: derivatives by parameter %d, near %v", ErrNotFinite, j, s.at[j])
		}
		if s.root[j] = max(s.root[j], math.Sqrt(d)); s.root[j] == 0 {
			s.root[j] = 1 // no effect here; perhaps elsewhere
		}
	}
	for j := range s.root {
		s.gradient[j] /= s.root[j]
		for i := 0; i <= j; i++ {
			s.normal.SetSym(i, j, s.normal.At(i, j)/(s.root[i]*s.root[j]))
		}
	}
	return nil
}

// differentiate fills the columns, by the caller's Jacobian or by central
// differences with the step that balances their truncation and rounding,
// epsilon^(1/3) of the parameter's size.
func (s *search) differentiate() {
	if s.problem.Jacobian != nil {
		s.problem.Jacobian(s.columns, s.at)
		return
	}
	copy(s.trial, s.at)
	for j, p := range s.at {
		h := math.Cbrt(0x1p-52) * max(math.Abs(p), s.options.Scale[j])
		up, down := p+h, p-h
		s.trial[j] = up
		s.problem.Residuals(s.columns[j], s.trial)
		s.trial[j] = down
		s.problem.Residuals(s.trialResiduals, s.trial)
		s.trial[j] = p
		floats.Sub(s.columns[j], s.trialResiduals)
		floats.Scale(1/(up-down), s.columns[j])
	}
}

// gram sums J^T W r into gradient and J^T W J into normal; where weigh is
// false, the weights are left out of the matrix.
func (s *search) gram(weigh bool) {
	for j, column := range s.columns {
		if weigh {
			column = floats.MulTo(s.weighted, column, s.weights)
		}
		s.gradient[j] = floats.Dot(column, s.residuals)
		for i := 0; i <= j; i++ {
			s.normal.SetSym(i, j, floats.Dot(column, s.columns[i]))
		}
	}
}

// arrived works out the full Gauss-Newton step and says whether it is small
// enough to be left out: in standard uncertainties, or below all rounding. On
// ground too flat to say, it has not arrived.
func (s *search) arrived() bool {
	s.offset = math.Inf(1)
	if !s.solve(0) {
		return false
	}
	sd := s.weightedSD()
	if decrement := -floats.Dot(s.gradient, s.step.RawVector().Data); sd > 0 {
		s.offset = math.Sqrt(max(0, decrement)/float64(len(s.at))) / sd
	} else {
		s.offset = 0
	}
	return s.offset <= s.options.Tolerance || s.stepWithin(leastFullStep)
}

// solve finds the step (A + damping I) step = -gradient, in scaled parameters.
func (s *search) solve(damping float64) bool {
	s.damped.CopySym(s.normal)
	for j := range s.at {
		s.damped.SetSym(j, j, s.damped.At(j, j)+damping)
	}
	if !s.chol.Factorize(s.damped) {
		return false
	}
	err := s.chol.SolveVecTo(s.step, s.slope)
	s.step.ScaleVec(-1, s.step)
	return err == nil || s.chol.Cond() < math.Inf(1)
}

// stepWithin says whether no parameter would move by more than the fraction.
func (s *search) stepWithin(fraction float64) bool {
	for j, p := range s.at {
		move := math.Abs(s.step.AtVec(j) / s.root[j])
		if !(move <= fraction*max(math.Abs(p), s.options.Scale[j])) {
			return false
		}
	}
	return true
}

// advance raises the damping until a step goes downhill, and takes it; false
// when none does. The damping follows Nielsen's rule (Madsen, Nielsen and
// Tingleff 2004, equation 2.21).
func (s *search) advance() bool {
	for !math.IsInf(s.damping, 1) {
		if s.solve(s.damping) {
			if s.stepWithin(leastStep) {
				return false
			}
			if gain := s.try(); gain > 0 {
				s.damping *= max(1./3, 1-math.Pow(2*gain-1, 3))
				s.growth = 2
				return true
			}
		}
		s.damping *= s.growth
		s.growth *= 2
	}
	return false
}

// try goes to the step's end and, when the loss is less there, stays. It
// returns the gain: the loss's true fall over that of the linear model.
func (s *search) try() (gain float64) {
	var promised float64
	for j, p := range s.at {
		d := s.step.AtVec(j)
		s.trial[j] = p + d/s.root[j]
		promised += d * (s.damping*d - s.gradient[j]) / 2
	}
	s.problem.Residuals(s.trialResiduals, s.trial)
	cost := s.loss(s.trialResiduals)
	gain = (s.cost - cost) / promised
	if promised <= rounding*s.cost && cost <= s.cost*(1+rounding) {
		gain = 1 // too close to the bottom for the sums to tell
	}
	if gain > 0 {
		s.at, s.trial = s.trial, s.at
		s.residuals, s.trialResiduals = s.trialResiduals, s.residuals
		s.cost = cost
	}
	return gain
}

// fit gathers the answer at the last point, whose Jacobian is at hand.
func (s *search) fit() (Fit, error) {
	unscaled, err := s.inverse()
	if err != nil {
		return Fit{}, err
	}
	f := Fit{
		Parameters: s.at, Residuals: s.residuals, Unscaled: unscaled,
		ResidualSD: s.residualSD(), DoF: len(s.residuals) - len(s.at),
		Iterations: s.iterations, Offset: s.offset,
	}
	if s.options.Huber > 0 {
		f.Weights = s.weights
	}
	f.Covariance = mat.NewSymDense(len(s.at), nil)
	f.Covariance.ScaleSym(f.ResidualSD*f.ResidualSD, unscaled)
	return f, nil
}

// inverse returns (J^T J)^-1, by way of the matrix scaled to a unit diagonal.
func (s *search) inverse() (*mat.SymDense, error) {
	s.gram(false)
	n := len(s.at)
	for j := range n {
		s.root[j] = math.Sqrt(s.normal.At(j, j))
		if s.root[j] == 0 {
			return nil, fmt.Errorf("%w: parameter %d has no effect on the residuals", ErrSingular, j)
		}
	}
	for j := range n {
		for i := 0; i <= j; i++ {
			s.normal.SetSym(i, j, s.normal.At(i, j)/(s.root[i]*s.root[j]))
		}
	}
	if !s.chol.Factorize(s.normal) || !(s.chol.Cond() < worstCondition) {
		return nil, fmt.Errorf("%w: the residuals do not tell the parameters apart", ErrSingular)
	}
	inverse := mat.NewSymDense(n, nil)
	if err := s.chol.InverseTo(inverse); err != nil {
		return nil, fmt.Errorf("%w: %v", ErrSingular, err)
	}
	for j := range n {
		for i := 0; i <= j; i++ {
			inverse.SetSym(i, j, inverse.At(i, j)/(s.root[i]*s.root[j]))
		}
	}
	return inverse, nil
}

// firstNotFinite returns the index of the first NaN or infinity, or -1.
func firstNotFinite(values []float64) int {
	for i, v := range values {
		if math.IsNaN(v) || math.IsInf(v, 0) {
			return i
		}
	}
	return -1
}
