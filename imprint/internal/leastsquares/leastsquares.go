// Package leastsquares fits parameters to residuals by Levenberg and
// Marquardt's method.
//
// Its opinion: a fit without its covariance is half an answer, and a fit has
// converged when the step that remains is a small part of the parameters' own
// standard uncertainty, not when some number stopped changing. The criterion
// is Bates and Watts' relative offset (Technometrics 23 (1981) 179-183).
// Whatever stands in the way, a singular problem, a NaN, too few residuals, is
// an error; running out of iterations is a Fit that says Converged: false.
//
// Memory is taken once per fit, not per iteration, and the normal matrix is
// summed over contiguous columns, so that a few thousand residuals with some
// sixteen parameters cost a millisecond an iteration, their own evaluation
// apart.
package leastsquares

import (
	"errors"
	"fmt"
	"math"

	"gonum.org/v1/gonum/mat"
)

var (
	// ErrTooFewResiduals says that there are not more residuals than
	// parameters, so that no residual standard deviation exists.
	ErrTooFewResiduals = errors.New("too few residuals")
	// ErrNotFinite says that a NaN or an infinity came out of the residuals or
	// of their derivatives.
	ErrNotFinite = errors.New("not finite")
	// ErrSingular says that the residuals do not fix all the parameters.
	ErrSingular = errors.New("singular")
	// ErrBadProblem says that the call itself is wrong.
	ErrBadProblem = errors.New("bad problem")
)

// Problem is what is to be made small: the sum of squares (or of Huber's loss)
// of Count residuals.
type Problem struct {
	// Count is the number of residuals.
	Count int
	// Residuals fills dst, of length Count, at the given parameters. It must
	// keep neither slice. Non-finite residuals away from the start mark ground
	// that the search may not enter.
	Residuals func(dst, parameters []float64)
	// Jacobian fills columns[j][i] with the derivative of residual i by
	// parameter j. Where it is nil, central differences are taken.
	Jacobian func(columns [][]float64, parameters []float64)
}

// Options are how to search. The zero value serves.
type Options struct {
	// Scale is a typical size of each parameter, in the parameter's unit: it
	// sets the steps of the central differences where a parameter is near
	// zero. Default: the start's magnitude, or 1 where that is 0.
	Scale []float64
	// Huber is the residual, in the residuals' unit, beyond which the loss
	// grows linearly instead of quadratically; 0 means least squares. 1.345
	// standard deviations keep 95 % of the efficiency on normal errors (Huber,
	// Robust Statistics, 1981; recomputed by integration: 0.9500); see RobustSD. Far below one
	// standard deviation few residuals are left to curve the loss, and hundreds
	// of iterations may be needed.
	Huber float64
	// Tolerance is the step that may remain when the fit is called converged,
	// as a fraction of the parameters' standard uncertainty (root mean square
	// over the parameters). Default 1e-6.
	Tolerance float64
	// MaxIterations bounds the number of accepted steps. Default 200.
	MaxIterations int
}

// Fit is where the search ended.
type Fit struct {
	// Parameters minimise the loss.
	Parameters []float64
	// Residuals are those at Parameters.
	Residuals []float64
	// Weights are Huber's, 1 for an inlier and less for others; nil for a
	// plain least-squares fit.
	Weights []float64
	// Unscaled is (J^T J)^-1, the parameters' covariance when the residuals
	// have unit variance.
	Unscaled *mat.SymDense
	// Covariance is ResidualSD^2 Unscaled.
	Covariance *mat.SymDense
	// ResidualSD is sqrt(sum of squares / DoF), or its robust counterpart.
	ResidualSD float64
	// DoF is the number of residuals less the number of parameters.
	DoF int
	// Iterations counts the accepted steps.
	Iterations int
	// Offset is Bates and Watts' relative offset at the end: the step that
	// remains, in standard uncertainties.
	Offset float64
	// Converged says that Offset is within Options.Tolerance, or that rounding
	// allows no smaller step.
	Converged bool
}

// StandardUncertainties returns the square roots of the covariance's diagonal,
// each in its parameter's unit.
func (f Fit) StandardUncertainties() []float64 {
	u := make([]float64, len(f.Parameters))
	for j := range u {
		u[j] = math.Sqrt(f.Covariance.At(j, j))
	}
	return u
}

// Minimise searches downhill from start for the least loss. The start is left
// as it was. Errors wrap ErrTooFewResiduals, ErrNotFinite, ErrSingular or
// ErrBadProblem.
func Minimise(problem Problem, start []float64, options Options) (Fit, error) {
	if err := check(problem, start, options); err != nil {
		return Fit{}, fmt.Errorf("least squares: %w", err)
	}
	s := newSearch(problem, start, options.withDefaults(start))
	converged, err := s.descend()
	if err != nil {
		return Fit{}, fmt.Errorf("least squares: %w", err)
	}
	fit, err := s.fit()
	if err != nil {
		return Fit{}, fmt.Errorf("least squares: %w", err)
	}
	fit.Converged = converged
	return fit, nil
}

// check refuses a call that cannot be answered.
func check(problem Problem, start []float64, options Options) error {
	switch {
	case problem.Residuals == nil:
		return fmt.Errorf("%w: no residual function", ErrBadProblem)
	case len(start) == 0:
		return fmt.Errorf("%w: no parameters", ErrBadProblem)
	case problem.Count <= len(start):
		return fmt.Errorf("%w: %d for %d parameters, need at least %d",
			ErrTooFewResiduals, problem.Count, len(start), len(start)+1)
	case options.Scale != nil && len(options.Scale) != len(start):
		return fmt.Errorf("%w: %d scales for %d parameters", ErrBadProblem, len(options.Scale), len(start))
	case !(options.Huber >= 0) || !(options.Tolerance >= 0) || options.MaxIterations < 0:
		return fmt.Errorf("%w: an option is negative or NaN", ErrBadProblem)
	}
	for j, s := range options.Scale {
		if !(s > 0) || math.IsInf(s, 1) {
			return fmt.Errorf("%w: scale %d is %v, need a positive number", ErrBadProblem, j, s)
		}
	}
	if j := firstNotFinite(start); j >= 0 {
		return fmt.Errorf("%w: start %d is %v", ErrNotFinite, j, start[j])
	}
	return nil
}

// withDefaults fills in what the caller left at zero.
func (o Options) withDefaults(start []float64) Options {
	if o.Scale == nil {
		o.Scale = make([]float64, len(start))
		for j, p := range start {
			if o.Scale[j] = math.Abs(p); p == 0 {
				o.Scale[j] = 1
			}
		}
	}
	if o.Tolerance == 0 {
		o.Tolerance = 1e-6
	}
	if o.MaxIterations == 0 {
		o.MaxIterations = 200
	}
	return o
}
