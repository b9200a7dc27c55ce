package dots

import (
	"math"

	"gonum.org/v1/gonum/blas"
	"gonum.org/v1/gonum/blas/blas64"
	"gonum.org/v1/gonum/lapack/lapack64"
)

// step solves the normal equations, damped.
func (q *equations) step(damping float64) (move [parameters]float64, ok bool) {
	n := q.n
	for k := range parameters {
		n[k*parameters+k] *= 1 + damping
	}
	t, ok := factor(&n)
	if !ok {
		return move, false
	}
	move = q.right
	lapack64.Potrs(t, blas64.General{Rows: parameters, Cols: 1, Stride: 1, Data: move[:]})
	return move, true
}

// variances are those of the centre's coordinates for samples of variance 1: of the inverse U^-1 U^-T the
// first two on the diagonal.
func (q *equations) variances() (x, y float64, ok bool) {
	n := q.n
	t, ok := factor(&n)
	if !ok || !lapack64.Trtri(t) {
		return 0, 0, false
	}
	row := func(k int) float64 {
		r := vector(n[k*parameters+k : (k+1)*parameters])
		return blas64.Dot(r, r)
	}
	return row(pX), row(pY), true
}

// hardly is the least ratio of a factor's diagonal: of a matrix with less the condition is beyond 1e16, and
// nothing is left of its solution's digits.
const hardly = 1e-8

// factor is the upper triangle U of n = U'U, in n's place; false where n is not positive definite.
func factor(n *[parameters * parameters]float64) (blas64.Triangular, bool) {
	t, ok := lapack64.Potrf(symmetric(n))
	least, most := math.Inf(1), 0.0
	for k := range parameters {
		v := n[k*parameters+k]
		least, most = math.Min(least, v), math.Max(most, v)
	}
	return t, ok && least > hardly*most
}

func symmetric(n *[parameters * parameters]float64) blas64.Symmetric {
	return blas64.Symmetric{Uplo: blas.Upper, N: parameters, Stride: parameters, Data: n[:]}
}
