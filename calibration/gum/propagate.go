package gum

import (
	"fmt"
	"math"

	"gonum.org/v1/gonum/mat"
)

// Propagate is the law of propagation for correlated inputs and any number of
// outputs: C V C^T, where C holds a row of sensitivities dy/dx for each output
// and V is the inputs' covariance (JCGM 100, equations 13 and 16; for several
// outputs H.2.3, equation H.9). The diagonal holds the outputs' variances, the
// rest their covariances. Sizes that do not fit are a mistake in the program
// and panic.
func Propagate(sensitivities mat.Matrix, covariance mat.Symmetric) *mat.SymDense {
	outputs, inputs := sensitivities.Dims()
	if n := covariance.SymmetricDim(); n != inputs {
		panic(fmt.Sprintf("gum: %d sensitivities for %d inputs", inputs, n))
	}
	var cv, cvc mat.Dense
	cv.Mul(sensitivities, covariance)
	cvc.Mul(&cv, sensitivities.T())
	return symmetrised(&cvc, outputs)
}

// symmetrised takes the mean of the two halves, which differ by rounding.
func symmetrised(m mat.Matrix, n int) *mat.SymDense {
	s := mat.NewSymDense(n, nil)
	for i := range n {
		for j := i; j < n; j++ {
			s.SetSym(i, j, (m.At(i, j)+m.At(j, i))/2)
		}
	}
	return s
}

// Covariance puts standard uncertainties and correlation coefficients together:
// u(x_i, x_j) = r_ij u_i u_j (JCGM 100, equation 14).
func Covariance(u []float64, correlation mat.Symmetric) *mat.SymDense {
	if n := correlation.SymmetricDim(); n != len(u) {
		panic(fmt.Sprintf("gum: %d uncertainties for %d correlated inputs", len(u), n))
	}
	v := mat.NewSymDense(len(u), nil)
	for i := range u {
		for j := i; j < len(u); j++ {
			v.SetSym(i, j, correlation.At(i, j)*u[i]*u[j])
		}
	}
	return v
}

// Correlation takes a covariance apart: the standard uncertainties, and the
// correlation coefficients (JCGM 100, equation 14). The coefficient with an
// input of no uncertainty is 0.
func Correlation(covariance mat.Symmetric) (u []float64, r *mat.SymDense) {
	n := covariance.SymmetricDim()
	u, r = make([]float64, n), mat.NewSymDense(n, nil)
	for i := range n {
		u[i] = math.Sqrt(covariance.At(i, i))
		for j := 0; j <= i; j++ {
			if product := u[i] * u[j]; i == j {
				r.SetSym(i, j, 1)
			} else if product > 0 {
				r.SetSym(i, j, covariance.At(i, j)/product)
			}
		}
	}
	return u, r
}

// CovarianceOfMeans evaluates readings of several inputs taken together, a row
// for each set and a column for each input: the means, and the covariance of
// the means (JCGM 100, 5.2.3, equation 17). There must be at least two sets of
// equal length.
func CovarianceOfMeans(sets [][]float64) (means []float64, covariance *mat.SymDense, err error) {
	if len(sets) < 2 {
		return nil, nil, fmt.Errorf("covariance of means: %d sets of readings, need at least 2", len(sets))
	}
	n := float64(len(sets))
	means = make([]float64, len(sets[0]))
	for k, set := range sets {
		if len(set) != len(means) {
			return nil, nil, fmt.Errorf("covariance of means: set %d has %d readings, the first has %d", k+1, len(set), len(means))
		}
		for i, x := range set {
			means[i] += x / n
		}
	}
	covariance = mat.NewSymDense(len(means), nil)
	away := mat.NewVecDense(len(means), nil)
	for _, set := range sets {
		away.SubVec(mat.NewVecDense(len(set), set), mat.NewVecDense(len(means), means))
		covariance.SymRankOne(covariance, 1/(n*(n-1)), away)
	}
	return means, covariance, nil
}

// Sensitivities are the model's c_i at the estimates, each from the model's
// change over one standard uncertainty to either side, [f(x_i + u_i) - f(x_i -
// u_i)] / 2u_i (JCGM 100, 5.1.3, note 2). An input of no uncertainty gets 0:
// nothing is known about how far it could move.
func Sensitivities(model func(inputs []float64) float64, estimates, u []float64) []float64 {
	inputs := append([]float64(nil), estimates...)
	c := make([]float64, len(estimates))
	for i, x := range estimates {
		if u[i] == 0 {
			continue
		}
		inputs[i] = x + u[i]
		above := model(inputs)
		inputs[i] = x - u[i]
		below := model(inputs)
		inputs[i] = x
		c[i] = (above - below) / (2 * u[i])
	}
	return c
}
