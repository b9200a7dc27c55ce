package gum

import (
	"math"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"gonum.org/v1/gonum/mat"
	"pgregory.net/rapid"
)

// impedance is the five sets of simultaneous readings of JCGM 100:2008, H.2,
// table H.2: potential difference V, current A, phase rad.
var impedance = [][]float64{
	{5.007, 19.663e-3, 1.0456},
	{4.994, 19.639e-3, 1.0438},
	{5.005, 19.640e-3, 1.0468},
	{4.990, 19.685e-3, 1.0428},
	{4.999, 19.678e-3, 1.0433},
}

// The three outputs of equation H.7: resistance, reactance, impedance, in ohm.
var impedanceModels = []func(x []float64) float64{
	func(x []float64) float64 { return x[0] / x[1] * math.Cos(x[2]) },
	func(x []float64) float64 { return x[0] / x[1] * math.Sin(x[2]) },
	func(x []float64) float64 { return x[0] / x[1] },
}

// Source: JCGM 100:2008, H.2, tables H.2 and H.3 as quoted by public test
// suites: half a unit of the last digit, where not noted otherwise.
func TestImpedance(t *testing.T) {
	means, v, err := CovarianceOfMeans(impedance)
	require.NoError(t, err)
	assert.InDelta(t, 4.9990, means[0], 0.00005)
	assert.InDelta(t, 19.6610e-3, means[1], 0.00005e-3)
	assert.InDelta(t, 1.04446, means[2], 0.000005)
	u, r := Correlation(v)
	assert.InDelta(t, 3.2e-3, u[0], 0.05e-3)
	assert.InDelta(t, 9.5e-6, u[1], 0.05e-6)
	assert.InDelta(t, 7.5e-4, u[2], 0.05e-4)
	assert.InDelta(t, -0.36, r.At(0, 1), 0.005)
	assert.InDelta(t, 0.86, r.At(0, 2), 0.005)
	assert.InDelta(t, -0.65, r.At(1, 2), 0.005)

	c := mat.NewDense(3, 3, nil)
	for i, model := range impedanceModels {
		c.SetRow(i, Sensitivities(model, means, u))
	}
	y, correlation := Correlation(Propagate(c, v))
	assert.InDelta(t, 127.732, impedanceModels[0](means), 0.0005)
	assert.InDelta(t, 219.847, impedanceModels[1](means), 0.0005)
	assert.InDelta(t, 254.260, impedanceModels[2](means), 0.0005)
	assert.InDelta(t, 0.071, y[0], 0.0005)
	assert.InDelta(t, 0.295, y[1], 0.001, "printed from rounded values; 0.2956 unrounded")
	assert.InDelta(t, 0.236, y[2], 0.0005)
	assert.InDelta(t, -0.588, correlation.At(0, 1), 0.0005)
	assert.InDelta(t, -0.49, correlation.At(0, 2), 0.005)
	assert.InDelta(t, 0.99, correlation.At(1, 2), 0.005)
}

// The models' derivatives by hand agree with the differences over one u, whose
// error is the third derivative's: (u/x)^2 of it, 1e-6 here.
func TestSensitivities(t *testing.T) {
	means, v, err := CovarianceOfMeans(impedance)
	require.NoError(t, err)
	u, _ := Correlation(v)
	c := Sensitivities(impedanceModels[0], means, u)
	V, I, phi := means[0], means[1], means[2]
	assert.InEpsilon(t, math.Cos(phi)/I, c[0], 1e-6)
	assert.InEpsilon(t, -V*math.Cos(phi)/(I*I), c[1], 1e-6)
	assert.InEpsilon(t, -V*math.Sin(phi)/I, c[2], 1e-6)
	assert.Equal(t, []float64{0, c[1]}, Sensitivities(func(x []float64) float64 { return impedanceModels[0]([]float64{x[0], x[1], phi}) },
		means[:2], []float64{0, u[1]}), "no uncertainty, no line")
}

// Two ends of a length under one scale: what is common cancels in their
// difference when the correlation is one (JCGM 100, equation 16 by hand).
func TestPropagateDifference(t *testing.T) {
	for _, c := range []struct{ r, want float64 }{{1, 1}, {0, 5}, {-1, 7}, {0.5, math.Sqrt(13)}} {
		v := Covariance([]float64{3, 4}, mat.NewSymDense(2, []float64{1, c.r, c.r, 1}))
		got := Propagate(mat.NewDense(1, 2, []float64{-1, 1}), v)
		assert.InDelta(t, c.want, math.Sqrt(got.At(0, 0)), 1e-12, "r = %v", c.r)
	}
}

// Without correlation the law of propagation is the budget's root sum of
// squares (JCGM 100, equation 13 becomes 10).
func TestPropagateUncorrelatedIsBudget(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		b := budgets().Draw(t, "budget")
		c, variances := mat.NewDense(1, len(b), nil), make([]float64, len(b))
		for i, line := range b {
			c.Set(0, i, line.Sensitivity)
			variances[i] = line.Std * line.Std
		}
		got := Propagate(c, mat.NewDiagDense(len(b), variances))
		assert.InDelta(t, b.Combined(), math.Sqrt(got.At(0, 0)), 1e-12*b.Combined()+1e-150, "1e-150: whose square underflows")
	})
}

// Correlation and Covariance undo each other.
func TestCorrelationRoundTrip(t *testing.T) {
	u, r := Correlation(mat.NewSymDense(3, []float64{4, 1, 0, 1, 9, 0, 0, 0, 0}))
	assert.Equal(t, []float64{2, 3, 0}, u)
	assert.InDelta(t, 1./6, r.At(0, 1), 1e-15)
	assert.Equal(t, 0.0, r.At(1, 2), "no uncertainty, no correlation")
	assert.Equal(t, 1.0, r.At(2, 2))
	v := Covariance(u, r)
	assert.InDelta(t, 1, v.At(0, 1), 1e-15)
	assert.Equal(t, 9.0, v.At(1, 1))
}

func TestPropagateRefuses(t *testing.T) {
	_, _, err := CovarianceOfMeans(impedance[:1])
	assert.ErrorContains(t, err, "1 sets of readings, need at least 2")
	_, _, err = CovarianceOfMeans([][]float64{{1, 2}, {1}})
	assert.ErrorContains(t, err, "set 2 has 1 readings, the first has 2")
	assert.Panics(t, func() { Propagate(mat.NewDense(1, 2, nil), mat.NewSymDense(3, nil)) })
	assert.Panics(t, func() { Covariance([]float64{1}, mat.NewSymDense(2, nil)) })
}
