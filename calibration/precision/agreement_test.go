package precision

import (
	"math"
	"math/rand/v2"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"
)

// Source: Bland and Altman, Lancet 1986; i: 307-310, first readings, Wright
// less mini, as a public test suite quotes the paper line by line. The paper
// works on with its own rounded values: the second figure is the same formula
// of unrounded d and s with t = 2.12, and must be met to 0.005 and the 0.0016
// that t's rounding makes; the first to what rounding d to 0.05, s to 0.05, SE
// to 0.05 and t to 0.005 can do to it.
func TestLimitsOfAgreement1986(t *testing.T) {
	f := readFlow(t)
	d, err := Differences(f.wright, f.mini)
	require.NoError(t, err)
	a, err := LimitsOfAgreement1986(d)
	require.NoError(t, err)
	assert.Equal(t, 17, a.N)
	// A limit d -+ 2s: 0.05 + 2 x 0.05. A confidence limit of it adds t x 0.05
	// + 0.005 x SE: 0.106 + 0.08.
	cases := []struct {
		name                string
		paper, exact, got   float64
		roundingOfThatPaper float64
	}{
		{"bias", -2.1, -2.1176, a.Bias, 0.05},
		{"SD", 38.8, 38.7651, a.SD, 0.05},
		{"lower limit", -79.7, -79.648, a.Lower, 0.15},
		{"upper limit", 75.5, 75.413, a.Upper, 0.15},
		{"SE of the bias", 9.4, 9.4019, a.BiasSE, 0.05},
		{"SE of a limit", 16.3, 16.2846, a.LimitSE, 0.05},
		{"bias from", -22.0, -22.05, a.BiasInterval.Low, 0.05 + 0.106 + 0.05},
		{"bias to", 17.8, 17.81, a.BiasInterval.High, 0.05 + 0.106 + 0.05},
		{"lower limit from", -114.3, -114.17, a.LowerInterval.Low, 0.15 + 0.106 + 0.08},
		{"lower limit to", -45.1, -45.12, a.LowerInterval.High, 0.15 + 0.106 + 0.08},
		{"upper limit from", 40.9, 40.89, a.UpperInterval.Low, 0.15 + 0.106 + 0.08},
		{"upper limit to", 110.1, 109.94, a.UpperInterval.High, 0.15 + 0.106 + 0.08},
	}
	for _, c := range cases {
		assert.InDelta(t, c.paper, c.got, c.roundingOfThatPaper, c.name)
		assert.InDelta(t, c.exact, c.got, 0.005+0.0016, c.name)
	}
}

// Source: the same data with the multiplier 1.96 and the standard error of the
// 1999 review, recomputed from its formula: limits -78.097 and 73.862, SE of a
// limit 16.395.
func TestLimitsOfAgreement(t *testing.T) {
	f := readFlow(t)
	d, err := Differences(f.wright, f.mini)
	require.NoError(t, err)
	a, err := LimitsOfAgreement(d)
	require.NoError(t, err)
	assert.InDelta(t, -78.097, a.Lower, 0.002, "1.96 for 1.959964: 4e-5 of s")
	assert.InDelta(t, 73.862, a.Upper, 0.002)
	assert.InDelta(t, 16.395, a.LimitSE, 0.0005)
	assert.InDelta(
		t, 2.1199*16.395, a.Upper-a.UpperInterval.Low, 0.005, "t of 16 degrees of freedom, common tables",
	)
}

// Source: Bland and Altman 1986, means of two readings: bias -6.0, SD 33.2;
// the SD of single readings corrected for it, sqrt(s_D^2 + s_1^2/4 + s_2^2/4),
// with s_1 and s_2 those of the repeated readings' differences about zero, is
// printed as 37.7 (from memory).
func TestMeansOfTwoReadings(t *testing.T) {
	f := readFlow(t)
	d := make([]float64, 17)
	for i := range d {
		d[i] = (f.wright[i]+f.wrightAgain[i])/2 - (f.mini[i]+f.miniAgain[i])/2
	}
	a, err := LimitsOfAgreement(d)
	require.NoError(t, err)
	assert.InDelta(t, -6.0, a.Bias, 0.05)
	assert.InDelta(t, 33.2, a.SD, 0.05)
	variance := a.SD * a.SD
	for _, readings := range [][2][]float64{{f.wright, f.wrightAgain}, {f.mini, f.miniAgain}} {
		coefficient, err := RepeatabilityCoefficient(readings[0], readings[1])
		require.NoError(t, err)
		variance += coefficient * coefficient / 4 / 4
	}
	assert.InDelta(t, 37.7, math.Sqrt(variance), 0.05)
}

func TestAgreementRefuses(t *testing.T) {
	_, err := LimitsOfAgreement([]float64{1, 2})
	assert.ErrorContains(t, err, "2 values, need at least 3")
	_, err = LimitsOfAgreement1986([]float64{1, 2, math.Inf(1)})
	assert.ErrorContains(t, err, "value 3 is +Inf")
	_, err = Differences([]float64{1}, []float64{1, 2})
	assert.ErrorContains(t, err, "1 readings and 2 references")
}

// Exchanging the methods turns bias and limits about, and a constant moves them
// with it.
func TestAgreementSymmetry(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		d := rapid.SliceOfN(rapid.Float64Range(-20, 20), 3, 40).Draw(t, "differences")
		shift := rapid.Float64Range(-5, 5).Draw(t, "shift")
		turned := make([]float64, len(d))
		for i := range d {
			turned[i] = shift - d[i]
		}
		a, err := LimitsOfAgreement(d)
		require.NoError(t, err)
		b, err := LimitsOfAgreement(turned)
		require.NoError(t, err)
		assert.InDelta(t, shift-a.Bias, b.Bias, 1e-12)
		assert.InDelta(t, shift-a.Upper, b.Lower, 1e-11)
		assert.InDelta(t, shift-a.LowerInterval.Low, b.UpperInterval.High, 1e-10)
		assert.LessOrEqual(t, a.Lower, a.Bias)
		assert.LessOrEqual(t, a.BiasSE, a.LimitSE, "a limit is known less well than the bias")
	})
}

// Over repeated audits of 60 photos the limits scatter as their standard error
// says, and 95 % of the intervals hold the bias. Tolerances: four standard
// errors of a standard deviation and of a share from 4000 repeats; the formula
// for the limits leaves out terms of 1/4n (the bias and the variance of s).
func TestStandardErrorsHold(t *testing.T) {
	const repeats, n = 4000, 60
	random := rand.New(rand.NewPCG(8, 8))
	upper, claimed, held := make([]float64, repeats), 0.0, 0
	for r := range repeats {
		d := make([]float64, n)
		for i := range d {
			d[i] = 0.4 + 1.5*random.NormFloat64()
		}
		a, err := LimitsOfAgreement(d)
		require.NoError(t, err)
		upper[r] = a.Upper
		claimed += a.LimitSE / repeats
		if a.BiasInterval.Low <= 0.4 && 0.4 <= a.BiasInterval.High {
			held++
		}
	}
	assert.InEpsilon(t, SD(upper), claimed, 4/math.Sqrt(2*repeats)+1./(4*n))
	assert.InDelta(t, 0.95, float64(held)/repeats, 4*math.Sqrt(0.95*0.05/repeats))
}

// E_n by hand: U of 0.4 and 0.3 make 0.5.
func TestNormalised(t *testing.T) {
	assert.InDelta(t, 1.0, Normalised(10.5, 0.4, 10, 0.3), 1e-12)
	assert.InDelta(t, -2.0, Normalised(9, 0.4, 10, 0.3), 1e-12)
	assert.Equal(t, 0.0, Normalised(10, 0, 10, 0))
	assert.True(t, math.IsInf(Normalised(10.1, 0, 10, 0), 1))
}

// Source: F. J. Anscombe, The American Statistician 27 (1973) 17-21, first set,
// from memory: y = 3.00 + 0.500 x, standard error of the slope 0.118; with more
// digits t = 4.241, p = 0.00217 in common statistics programs.
func TestLineAnscombe(t *testing.T) {
	x := []float64{10, 8, 13, 9, 11, 14, 6, 4, 12, 7, 5}
	y := []float64{8.04, 6.95, 7.58, 8.81, 8.33, 9.96, 7.24, 4.26, 10.84, 4.82, 5.68}
	b, err := LineOf(x, y)
	require.NoError(t, err)
	assert.InDelta(t, 0.500, b.Slope, 0.0005)
	assert.InDelta(t, 3.00, b.Intercept, 0.005)
	assert.InDelta(t, 0.118, b.SE, 0.0005)
	assert.InDelta(t, 4.241, b.Slope/b.SE, 0.0005)
	assert.InDelta(t, 0.00217, b.P, 0.000005)
	assert.Equal(t, 9.0, b.DoF)
	assert.InDelta(t, b.Slope-2.2622*b.SE, b.Interval.Low, 1e-4, "t of 9 degrees of freedom, common tables")
}

// The slope on the mean is zero exactly where the two methods' variances are
// alike, and its t is that of Pitman (Biometrika 31 (1939) 9-12) for comparing
// them: r sqrt(n-2) / sqrt(1-r^2), r the correlation of difference and sum.
func TestProportionalBiasIsPitmansTest(t *testing.T) {
	f := readFlow(t)
	b, err := ProportionalBiasOf(f.wright, f.mini)
	require.NoError(t, err)
	s1, s2 := SD(f.wright)*SD(f.wright), SD(f.mini)*SD(f.mini)
	product, m1, m2 := 0.0, Mean(f.wright), Mean(f.mini)
	for i := range f.wright {
		product += (f.wright[i] - m1) * (f.mini[i] - m2) / 16
	}
	r := (s1 - s2) / math.Sqrt((s1+s2)*(s1+s2)-4*product*product)
	assert.InEpsilon(t, r*math.Sqrt(15)/math.Sqrt(1-r*r), b.Slope/b.SE, 1e-9)
	assert.Less(t, b.Interval.Low, 0.0)
	assert.Greater(t, b.Interval.High, 0.0)
	assert.Greater(t, b.P, 0.05, "an interval that holds zero and p > 5 % say the same")
}

// A method that reads 10 % more than the other: y = 1.1 x has the difference
// 0.1 x on the mean 1.05 x, a slope of 0.1/1.05.
func TestProportionalBiasFound(t *testing.T) {
	reference := []float64{100, 110, 120, 130, 140}
	measured := make([]float64, 5)
	for i, x := range reference {
		measured[i] = 1.1 * x
	}
	b, err := ProportionalBiasOf(measured, reference)
	require.NoError(t, err)
	assert.InDelta(t, 0.1/1.05, b.Slope, 1e-12)
	assert.InDelta(t, 0, b.Intercept, 1e-9)
	assert.Less(t, b.P, 1e-6)
}

func TestProportionalBiasRefuses(t *testing.T) {
	_, err := ProportionalBiasOf([]float64{1, 2}, []float64{1, 2})
	assert.ErrorContains(t, err, "2 values, need at least 3")
	_, err = ProportionalBiasOf([]float64{1, 2, 3}, []float64{3, 2, 1})
	assert.ErrorContains(t, err, "need measurands of different size")
	_, err = ProportionalBiasOf([]float64{1, 2, 3}, []float64{3, 2})
	assert.ErrorContains(t, err, "3 readings and 2 references")
	b, err := ProportionalBiasOf([]float64{1, 2, 3}, []float64{1, 2, 3})
	require.NoError(t, err)
	assert.Equal(t, 1.0, b.P, "no difference at all is no slope")
}
