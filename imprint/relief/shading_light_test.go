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
	// measurement page, (2): log I = log B + p z_x + q z_y + s (z_x^2 + z_y^2) + r z + k ((x - Cx) z_x + (y -
	// Cy) z_y + 2 z) / H, with z = -depth
	h := slope{d: 12, x: 0.3, y: -0.5}
	p, q, s, r, k := 0.7, -0.4, -0.3, 0.01, 0.8
	got := 0.0
	for j, c := range []float64{p, q, s, 0, s, r * deep, k} {
		got += c * termsOf(h, View{30, -20, 400}.lensFrom(Point{70, 10}))[j]
	}
	assert.InDelta(t, p*-0.3+q*0.5+s*(0.09+0.25)+r*-12+k*(40*-0.3+30*0.5-2*12)/400, got, 1e-15)
	assert.Zero(t, termsOf(h, View{}.lensFrom(Point{70, 10}))[terms-1], "no camera, no lens")
}

// A lamp at the lens to first order, against the light itself: a Lambert wall's, the lamp's cosine over the
// distance's square.
func TestLensLightIsALampsAtTheLens(t *testing.T) {
	v, p := View{30, -20, 400}, Point{70, 10}
	const e = 1e-4
	for _, h := range []slope{{d: 1}, {x: 1}, {y: 1}} {
		change := (math.Log(lampAtLens(v, p, slope{e * h.d, e * h.x, e * h.y})) - math.Log(lampAtLens(v, p,
			slope{}))) / e
		// by hand: the slopes' part is exact; the depth's is (1 - 3 H^2/far^2)/H, for (40^2 + 30^2)/400^2 sideways
		// 2.3 % less than -2/H
		assert.InEpsilon(t, change, v.lensFrom(p).light(h), 0.024)
	}
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
		l := View{100 * rng.NormFloat64(), 100 * rng.NormFloat64(), 400}.lensFrom(Point{})
		at := func(e float64) (sum float64) {
			g := h
			g.add(dh, e)
			for k, v := range termsOf(g, l) {
				sum += c[k] * v
			}
			return sum
		}
		const e = 1e-4
		assert.InDelta(t, (at(e)-at(-e))/(2*e), termsBy(c, h, dh, l), derivativeTolerance)
	}
}

// The projection against the normal equations of the same least squares with priors, solved by Cholesky's
// method.
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
	assert.Equal(t, 0.1, lit[terms+1])
	assert.Equal(t, 1.0, unlit[terms+1])
	assert.Equal(t, 10.0, lit[terms])
	for _, v := range append(lit, unlit...) {
		assert.True(t, v > 0 && !math.IsInf(v, 1))
	}
}
