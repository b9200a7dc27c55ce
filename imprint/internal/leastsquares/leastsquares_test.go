package leastsquares

import (
	"math"
	"math/rand/v2"
	"runtime"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"gonum.org/v1/gonum/mat"
	"pgregory.net/rapid"
)

func straightLine(b []float64, x float64) float64 { return b[0] + b[1]*x }

func TestMinimiseRefuses(t *testing.T) {
	x := []float64{1, 2, 3, 4}
	y := []float64{1.1, 1.9, 3.2, 3.9}
	line := problemOf(y, x, straightLine)
	constant := func(v float64) Problem {
		return Problem{Count: 4, Residuals: func(dst, _ []float64) {
			for i := range dst {
				dst[i] = v
			}
		}}
	}
	cases := []struct {
		name    string
		problem Problem
		start   []float64
		options Options
		want    error
	}{
		{
			"as many parameters as residuals",
			problemOf(y[:2], x[:2], straightLine),
			[]float64{0, 1},
			Options{},
			ErrTooFewResiduals,
		},
		{"no residual function", Problem{Count: 4}, []float64{0}, Options{}, ErrBadProblem},
		{"no parameters", line, nil, Options{}, ErrBadProblem},
		{"a scale short", line, []float64{0, 1}, Options{Scale: []float64{1}}, ErrBadProblem},
		{"a scale of zero", line, []float64{0, 1}, Options{Scale: []float64{1, 0}}, ErrBadProblem},
		{"a NaN threshold", line, []float64{0, 1}, Options{Huber: math.NaN()}, ErrBadProblem},
		{"a negative tolerance", line, []float64{0, 1}, Options{Tolerance: -1}, ErrBadProblem},
		{"a NaN start", line, []float64{0, math.NaN()}, Options{}, ErrNotFinite},
		{"NaN residuals", constant(math.NaN()), []float64{1}, Options{}, ErrNotFinite},
		{"infinite residuals", constant(math.Inf(-1)), []float64{1}, Options{}, ErrNotFinite},
		{"no effect", constant(1), []float64{1}, Options{}, ErrSingular},
		{
			"two parameters for one",
			problemOf(y, x, func(b []float64, x float64) float64 { return (b[0] + b[1]) * x }),
			[]float64{1, 2},
			Options{},
			ErrSingular,
		},
	}
	for _, c := range cases {
		t.Run(c.name, func(t *testing.T) {
			_, err := Minimise(c.problem, c.start, c.options)
			assert.ErrorIs(t, err, c.want)
		})
	}
}

// A derivative that is not finite is refused, even where the residuals are.
func TestMinimiseRefusesNotFiniteDerivative(t *testing.T) {
	problem := problemOf([]float64{1, 2, 3}, []float64{1, 2, 3}, straightLine)
	problem.Jacobian = func(columns [][]float64, _ []float64) {
		for i := range columns[0] {
			columns[0][i], columns[1][i] = 1, math.NaN()
		}
	}
	_, err := Minimise(problem, []float64{0, 1}, Options{})
	assert.ErrorIs(t, err, ErrNotFinite)
	assert.ErrorContains(t, err, "parameter 1")
}

// The search steps back from ground where the residuals do not exist: the
// first full step for this logarithm leads below zero.
func TestMinimiseAvoidsNotFiniteGround(t *testing.T) {
	problem := problemOf([]float64{-2, -2.1, -1.9}, []float64{1, 1, 1},
		func(b []float64, x float64) float64 { return math.Log(b[0]) * x })
	fit, err := Minimise(problem, []float64{5}, Options{})
	require.NoError(t, err)
	assert.True(t, fit.Converged)
	assert.InEpsilon(t, math.Exp(-2), fit.Parameters[0], 1e-6)
}

// Out of iterations, the fit is handed back and says so.
func TestMinimiseOutOfIterations(t *testing.T) {
	set := readNIST(t, "Misra1a")
	fit, err := Minimise(problemOf(set.y, set.x, adsorption), set.starts[0], Options{MaxIterations: 2})
	require.NoError(t, err)
	assert.False(t, fit.Converged)
	assert.Equal(t, 2, fit.Iterations)
	assert.Greater(t, fit.Offset, 1e-6)
}

// Data without noise end in an exact fit that counts as converged, though its
// residuals are nothing but rounding.
func TestMinimiseExactData(t *testing.T) {
	set := readNIST(t, "Gauss2")
	truth := set.certified
	for i, x := range set.x {
		set.y[i] = twoGaussians(truth, x)
	}
	fit, err := Minimise(problemOf(set.y, set.x, twoGaussians), set.starts[0], Options{})
	require.NoError(t, err)
	assert.True(t, fit.Converged, "offset %g", fit.Offset)
	for j := range truth {
		assert.InEpsilon(t, truth[j], fit.Parameters[j], 1e-9, "b%d", j+1)
	}
}

func TestMinimiseLeavesStartAlone(t *testing.T) {
	start := []float64{3, 4}
	_, err := Minimise(problemOf([]float64{1, 2, 4}, []float64{1, 2, 3}, straightLine), start, Options{})
	require.NoError(t, err)
	assert.Equal(t, []float64{3, 4}, start)
}

// The caller's derivatives and the central differences lead to the same place
// with the same covariance.
func TestJacobianAgreesWithDifferences(t *testing.T) {
	set := readNIST(t, "DanWood")
	problem := problemOf(set.y, set.x, radiation)
	differences, err := Minimise(problem, set.starts[0], Options{})
	require.NoError(t, err)
	problem.Jacobian = func(columns [][]float64, b []float64) {
		for i, x := range set.x {
			columns[0][i] = math.Pow(x, b[1])
			columns[1][i] = b[0] * math.Pow(x, b[1]) * math.Log(x)
		}
	}
	analytic, err := Minimise(problem, set.starts[0], Options{})
	require.NoError(t, err)
	// Both stop within 1e-6 standard uncertainties, root mean square over two
	// parameters: sqrt(2) 1e-6 for one of them. Central differences err by
	// epsilon^(2/3) = 4e-11 of the third derivative's size.
	u := analytic.StandardUncertainties()
	for j := range u {
		assert.InDelta(t, analytic.Parameters[j], differences.Parameters[j], 2*math.Sqrt2*1e-6*u[j])
		assert.InEpsilon(t, u[j], differences.StandardUncertainties()[j], 1e-8)
	}
}

// On a linear problem the answer is the one that gonum's QR decomposition
// gives, and the covariance s^2 (X^T X)^-1, in whatever units the columns are.
func TestLinearProblemsMatchQR(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		random := rand.New(rand.NewPCG(rapid.Uint64().Draw(t, "seed"), 1))
		n := rapid.IntRange(1, 5).Draw(t, "n")
		m := n + rapid.IntRange(1, 20).Draw(t, "more")
		units, scale := make([]float64, n), make([]float64, n)
		for j := range units {
			units[j] = math.Pow(10, rapid.Float64Range(-4, 4).Draw(t, "unit"))
			scale[j] = 1 / units[j]
		}
		design, y := mat.NewDense(m, n, nil), mat.NewVecDense(m, nil)
		for i := range m {
			y.SetVec(i, random.NormFloat64())
			for j := range n {
				design.Set(i, j, random.NormFloat64()*units[j])
			}
		}
		var qr mat.QR
		qr.Factorize(design)
		if qr.Cond() > 1e6 {
			t.Skip("too close to singular to compare digits")
		}
		want := mat.NewVecDense(n, nil)
		require.NoError(t, qr.SolveVecTo(want, false, y))
		fit, err := Minimise(Problem{Count: m, Residuals: func(dst, b []float64) {
			r := mat.NewVecDense(m, dst)
			r.MulVec(design, mat.NewVecDense(n, b))
			r.SubVec(r, y)
		}}, make([]float64, n), Options{Scale: scale})
		require.NoError(t, err)
		require.True(t, fit.Converged)

		var gram, inverse mat.Dense
		gram.Mul(design.T(), design)
		require.NoError(t, inverse.Inverse(&gram))
		for j, u := range fit.StandardUncertainties() {
			// The offset of 1e-6 is a root mean square over n parameters.
			assert.InDelta(t, want.AtVec(j), fit.Parameters[j], math.Sqrt(float64(n))*1e-6*u)
			assert.InEpsilon(t, math.Sqrt(inverse.At(j, j))*fit.ResidualSD, u, 1e-6)
			assert.InEpsilon(
				t,
				fit.Unscaled.At(j, j)*fit.ResidualSD*fit.ResidualSD,
				fit.Covariance.At(j, j),
				1e-12,
			)
		}
	})
}

// A fit's memory is the Jacobian's m x n numbers and four columns more, taken
// once, however many iterations: a second Jacobian would add 16/20 to it, and
// gonum's small scratch may add a twentieth.
func TestMemoryIsTakenOnce(t *testing.T) {
	const m = 3000
	problem, start := cosineSeries(m)
	for _, iterations := range []int{1, 8} {
		var before, after runtime.MemStats
		runtime.ReadMemStats(&before)
		fit, err := Minimise(problem, start, Options{MaxIterations: iterations, Tolerance: 1e-9})
		runtime.ReadMemStats(&after)
		require.NoError(t, err)
		require.GreaterOrEqual(t, fit.Iterations, min(iterations, 3))
		assert.InEpsilon(t, 8*m*(16+4), after.TotalAlloc-before.TotalAlloc, 0.05, "%d iterations", iterations)
	}
}

// cosineSeries is a mildly nonlinear problem of m residuals and 16 parameters.
func cosineSeries(m int) (Problem, []float64) {
	random := rand.New(rand.NewPCG(7, 7))
	noise, cosines, start := make([]float64, m), make([]float64, 16*m), make([]float64, 16)
	for j := range start {
		start[j] = 0.5
	}
	for i := range noise {
		noise[i] = random.NormFloat64()
		for j := range start {
			cosines[16*i+j] = math.Cos(float64(j) * 3 * float64(i) / float64(m))
		}
	}
	return Problem{Count: m, Residuals: func(dst, b []float64) {
		for i := range dst {
			sum := 0.0
			for j, c := range cosines[16*i : 16*i+16] {
				sum += b[j] * c
			}
			dst[i] = sum + 0.01*sum*sum - noise[i]
		}
	}}, start
}

// BenchmarkMinimise3000x16 is the size of fit that a photo asks for.
func BenchmarkMinimise3000x16(b *testing.B) {
	problem, start := cosineSeries(3000)
	iterations := 0
	for b.Loop() {
		fit, err := Minimise(problem, start, Options{})
		if err != nil {
			b.Fatal(err)
		}
		iterations += fit.Iterations
	}
	b.ReportMetric(float64(iterations)/float64(b.N), "iterations/op")
}
