package relief

import (
	"math"
	"math/rand/v2"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"gonum.org/v1/gonum/mat"
)

func TestTermsAreEquationTwo(t *testing.T) {
	// measurement page, (2): log I = log B + p z_x + q z_y + s (z_x^2 + z_y^2) + r z, with z = -depth
	h := slope{d: 12, x: 0.3, y: -0.5}
	p, q, s, r := 0.7, -0.4, -0.3, 0.01
	got := 0.0
	for k, c := range []float64{p, q, s, 0, s, r * deep} {
		got += c * termsOf(h)[k]
	}
	assert.InDelta(t, p*-0.3+q*0.5+s*(0.09+0.25)+r*-12, got, 1e-15)
}

func TestTermsByAgainstDifferences(t *testing.T) {
	rng := rand.New(rand.NewPCG(7, 8))
	for range 20 {
		c := make([]float64, terms)
		for k := range c {
			c[k] = rng.NormFloat64()
		}
		h := slope{10 * rng.Float64(), rng.NormFloat64(), rng.NormFloat64()}
		dh := slope{rng.NormFloat64(), rng.NormFloat64(), rng.NormFloat64()}
		at := func(e float64) (sum float64) {
			g := h
			g.add(dh, e)
			for k, v := range termsOf(g) {
				sum += c[k] * v
			}
			return sum
		}
		const e = 1e-4
		assert.InDelta(t, (at(e)-at(-e))/(2*e), termsBy(c, h, dh), derivativeTolerance)
	}
}

// The projection against the normal equations of the same least squares with priors, solved by Cholesky's method.
func TestProjectAgainstNormalEquations(t *testing.T) {
	rng := rand.New(rand.NewPCG(9, 10))
	const n, m = 40, 5
	data, columns, sd := make([]float64, n), make([][]float64, m), []float64{1, 0.1, 10, 2, 0.5}
	for i := range data {
		data[i] = rng.NormFloat64()
	}
	normal, right := mat.NewSymDense(m, nil), mat.NewVecDense(m, nil)
	for k := range columns {
		columns[k] = make([]float64, n)
		for i := range columns[k] {
			columns[k][i] = rng.NormFloat64()
		}
		right.SetVec(k, dot(columns[k], data))
		for j := range k + 1 {
			normal.SetSym(j, k, dot(columns[j], columns[k]))
		}
		normal.SetSym(k, k, normal.At(k, k)+1/(sd[k]*sd[k]))
	}
	var chol mat.Cholesky
	require.True(t, chol.Factorize(normal))
	var want mat.VecDense
	require.NoError(t, chol.SolveVecTo(&want, right))

	original := make([][]float64, m)
	for k := range columns {
		original[k] = append([]float64(nil), columns[k]...)
	}
	p := project(data, columns, sd)
	for k := range sd {
		assert.InDelta(t, want.AtVec(k), p.coefficients[k], 1e-12)
		assert.InDelta(t, -p.coefficients[k]/sd[k], p.residuals[n+k], 1e-12, "a prior's own residual")
	}
	for i := range data {
		fitted := 0.0
		for k := range original {
			fitted += p.coefficients[k] * original[k][i]
		}
		assert.InDelta(t, data[i]-fitted, p.residuals[i], 1e-12)
	}
}

// Taking the paint off must give the likelihood of rows that share an unknown of each cell: r^T S^-1 r with
// S = W^-2 + paint^2 1 1^T (a sum of independent errors and one in common).
func TestUnpaintIsTheSharedLikelihood(t *testing.T) {
	weights := [][]float64{{2, 0.5}, {1, 0}, {3, 4}}
	errors := [][]float64{{0.1, -0.2}, {0.4, 0.9}, {-0.3, 0.25}} // unweighted, photo by cell
	const paint = 0.7
	rows := make([]float64, 6)
	want := 0.0
	for i := range 2 {
		var used []int
		for k := range weights {
			rows[k*2+i] = errors[k][i] * weights[k][i]
			if weights[k][i] > 0 {
				used = append(used, k)
			}
		}
		s, r := mat.NewSymDense(len(used), nil), mat.NewVecDense(len(used), nil)
		for a, k := range used {
			r.SetVec(a, errors[k][i])
			for b := range a + 1 {
				s.SetSym(a, b, paint*paint)
			}
			s.SetSym(a, a, paint*paint+1/(weights[k][i]*weights[k][i]))
		}
		var chol mat.Cholesky
		require.True(t, chol.Factorize(s))
		var x mat.VecDense
		require.NoError(t, chol.SolveVecTo(&x, r))
		want += mat.Dot(r, &x)
	}
	unpaint(rows, weights, paint)
	assert.InDelta(t, want, dot(rows, rows), 1e-12)
}

func TestCoefficientPriorsKnowTheFrame(t *testing.T) {
	lit, unlit := (&look{lit: true}).coefficientPriors(), (&look{}).coefficientPriors()
	require.Len(t, lit, terms+backgroundSize)
	assert.Equal(t, litPrior, lit[terms+1])
	assert.Equal(t, unlitPrior, unlit[terms+1])
	assert.Equal(t, levelPrior, lit[terms])
	for _, v := range append(lit, unlit...) {
		assert.True(t, v > 0 && !math.IsInf(v, 1))
	}
}
