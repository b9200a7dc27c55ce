package gum

import (
	"math"
	"testing"

	"github.com/stretchr/testify/assert"
	"gonum.org/v1/gonum/mathext"
	"gonum.org/v1/gonum/stat/distuv"
)

const trials = 400_000 // JCGM 101, 7.2.2 asks for 1e6; the tolerances below follow this number

func sum(x []float64) float64 {
	s := 0.0
	for _, v := range x {
		s += v
	}
	return s
}

// quantileError is the standard uncertainty of a quantile that a share p lies
// below, from so many trials, where the density is f: sqrt(p (1-p) / M) / f.
func quantileError(p, f float64) float64 { return math.Sqrt(p*(1-p)/trials) / f }

// Source: JCGM 101:2008, 9.2, tables 2 to 4 (table 4 from memory, recomputed; the supplement
// settles its last digit);
// the rectangular sum's end in closed form is 2 sqrt(3) (2 - (3/5)^(1/4)),
// annex E. Tolerances: half a unit of the printed digit and four standard
// uncertainties of the quantile at its density.
func TestAdditiveModel(t *testing.T) {
	unit := math.Sqrt(3)
	cases := []struct {
		name       string
		inputs     []Distribution
		u, end     float64
		uTol, half float64
		density    float64
	}{
		{"table 2, four normal", []Distribution{NormalAbout(0, 1), NormalAbout(0, 1), NormalAbout(0, 1),
			NormalAbout(0, 1)},
			2, 3.92, 0.01, 0.005, distuv.Normal{Sigma: 2}.Prob(3.92)},
		{"table 3, four rectangular", []Distribution{RectangularAbout(0, unit), RectangularAbout(0, unit),
			RectangularAbout(0, unit), RectangularAbout(0, unit)},
			2, 2 * unit * (2 - math.Pow(0.6, 0.25)), 0.01, 0, math.Pow(2*unit*math.Pow(0.6, 0.25),
				3) / 6 / math.Pow(2*unit, 4)},
		{"table 4, one ten times the others", []Distribution{RectangularAbout(0, unit), RectangularAbout(0, unit),
			RectangularAbout(0, unit), RectangularAbout(0, 10*unit)},
			math.Sqrt(103), 17.0, 0.05, 0.05, 0.5 / (20 * unit)},
	}
	for i, c := range cases {
		t.Run(c.name, func(t *testing.T) {
			s := MonteCarlo(trials, uint64(i+1), c.inputs, sum)
			low, high := s.Interval(0.95)
			tol := c.half + 4*quantileError(0.025, c.density)
			assert.InDelta(t, 0, s.Mean(), 4*c.u/math.Sqrt(trials))
			assert.InDelta(t, c.u, s.Std(), c.uTol)
			assert.InDelta(t, -c.end, low, tol)
			assert.InDelta(t, c.end, high, tol)
		})
	}
}

// Source: JCGM 101:2008, 9.2.4: where one rectangular input dominates, the law
// of propagation gives +-19.9 and is not validated by the sample's +-17.0;
// 9.2.2: with normal inputs it is.
func TestValidates(t *testing.T) {
	wide := Budget{}
	for _, halfWidth := range []float64{1, 1, 1, 10} {
		wide = append(wide, Component{Std: Rectangular(halfWidth * math.Sqrt(3)), Sensitivity: 1})
	}
	U, _ := wide.Expanded(0.95)
	assert.InDelta(t, 19.9, U, 0.05)
	unit := math.Sqrt(3)
	s := MonteCarlo(trials, 4, []Distribution{RectangularAbout(0, unit), RectangularAbout(0, unit),
		RectangularAbout(0, unit), RectangularAbout(0, 10*unit)}, sum)
	assert.False(t, s.Validates(-U, U, 0.95, NumericalTolerance(wide.Combined(), 2)))

	even := Budget{{Std: 1, Sensitivity: 1}, {Std: 1, Sensitivity: 1}, {Std: 1, Sensitivity: 1},
		{Std: 1, Sensitivity: 1}}
	U, _ = even.Expanded(0.95)
	normal := NormalAbout(0, 1)
	s = MonteCarlo(trials, 4, []Distribution{normal, normal, normal, normal}, sum)
	assert.True(t, s.Validates(-U, U, 0.95, NumericalTolerance(even.Combined(), 2)))
}

// Source: JCGM 101:2008, 7.9.2, examples 1 and 3: u = 0.000 35 g to two digits
// gives 0.000 005 g, u = 2 K to one digit 0.5 K: from memory; both follow from the
// clause's own definition, and the clause settles the examples.
func TestNumericalTolerance(t *testing.T) {
	cases := []struct {
		u      float64
		digits int
		want   float64
	}{{0.00035, 2, 0.000005}, {2, 1, 0.5}, {0.999, 2, 0.05}, {10, 2, 0.5}, {9.94, 2, 0.05}}
	for _, c := range cases {
		assert.InEpsilon(t, c.want, NumericalTolerance(c.u, c.digits), 1e-12, "u = %v to %d digits", c.u, c.digits)
	}
}

// Source: JCGM 101:2008, 9.4, comparison loss dY = X1^2 + X2^2, u = 0.005, r =
// 0; in 1e-6. Means and u are x1^2 + 2u^2 and sqrt(4 x1^2 u^2 + 4 u^4) in
// closed form, and the interval must hold the share 0.95 of the exact
// distribution, within four standard uncertainties of a share.
func TestComparisonLoss(t *testing.T) {
	for i, x1 := range []float64{0, 10, 50} {
		loss := comparisonLoss{x1, 5}
		s := MonteCarlo(trials, uint64(i+10), []Distribution{NormalAbout(x1, 5), NormalAbout(0, 5)},
			func(x []float64) float64 { return x[0]*x[0] + x[1]*x[1] })
		std := math.Sqrt(4*x1*x1*25 + 4*625)
		assert.InDelta(t, x1*x1+50, s.Mean(), 4*std/math.Sqrt(trials), "x1 = %v", x1)
		// The kurtosis is 9 at most (exponential, at x1 = 0), so the standard
		// deviation's own is std sqrt((9-1)/4M).
		assert.InDelta(t, std, s.Std(), 4*std*math.Sqrt(2./trials), "x1 = %v", x1)
		low, high := s.Interval(0.95)
		share := 4 * math.Sqrt(0.025*0.975/trials)
		assert.InDelta(t, 0.025, loss.below(low), share, "x1 = %v", x1)
		assert.InDelta(t, 0.975, loss.below(high), share, "x1 = %v", x1)
	}
}

// comparisonLoss is the distribution of X1^2 + X2^2 about (x1, 0) with standard
// uncertainty u each: u^2 times noncentral chi-square of two degrees of freedom.
type comparisonLoss struct{ x1, u float64 }

// below is the probability of a loss of at most y, as a Poisson mixture of
// central chi-squares (Abramowitz and Stegun 26.4.25).
func (l comparisonLoss) below(y float64) float64 {
	half := l.x1 * l.x1 / (2 * l.u * l.u)
	p, weight := 0.0, math.Exp(-half)
	for j := 0.0; j < 200 && y > 0; j++ {
		p += weight * mathext.GammaIncReg(j+1, y/(2*l.u*l.u))
		weight *= half / (j + 1)
	}
	return p
}

func TestMonteCarloIsDeterministic(t *testing.T) {
	inputs := []Distribution{NormalAbout(1, 1), StudentAbout(0, 1, 5), RectangularAbout(0, 1),
		TriangularAbout(0, 1)}
	first := MonteCarlo(1000, 1, inputs, sum)
	assert.Equal(t, first, MonteCarlo(1000, 1, inputs, sum))
	assert.NotEqual(t, first, MonteCarlo(1000, 2, inputs, sum))
	assert.IsNonDecreasing(t, first)
}

// The standard uncertainty of each distribution as drawn is the one that its
// half-width converts to; Student's is u sqrt(nu/(nu-2)) (JCGM 101, 6.4.9.4).
// Tolerance: four standard errors of a standard deviation, sqrt((kurtosis - 1)
// / 4M); kurtosis 9 for Student's with 5 degrees of freedom, 3 bounds the
// others.
func TestDistributionsMatchHalfWidths(t *testing.T) {
	cases := []struct {
		name       string
		draw       Distribution
		u, extreme float64
		kurtosis   float64
	}{
		{"normal", NormalAbout(7, 0.5), 0.5, math.Inf(1), 3},
		{"rectangular", RectangularAbout(7, 2), Rectangular(2), 2, 3},
		{"triangular", TriangularAbout(7, 2), Triangular(2), 2, 3},
		{"Student", StudentAbout(7, 0.5, 5), 0.5 * math.Sqrt(5./3), math.Inf(1), 9},
	}
	for i, c := range cases {
		t.Run(c.name, func(t *testing.T) {
			s := MonteCarlo(trials, uint64(20+i), []Distribution{c.draw}, sum)
			assert.InDelta(t, 7, s.Mean(), 4*c.u/math.Sqrt(trials))
			assert.InDelta(t, c.u, s.Std(), 4*c.u*math.Sqrt((c.kurtosis-1)/4/trials))
			assert.GreaterOrEqual(t, s[0], 7-c.extreme)
			assert.LessOrEqual(t, s[len(s)-1], 7+c.extreme)
		})
	}
}

// Source: JCGM 101:2008, 7.7.2: of M = 100 and p = 0.95, q = 95, (M - q)/2 is
// not an integer, so r = int(3) = 3: the 3rd and the 98th value.
func TestIntervalRanks(t *testing.T) {
	s := make(Sample, 100)
	for i := range s {
		s[i] = float64(i + 1)
	}
	low, high := s.Interval(0.95)
	assert.Equal(t, []float64{3, 98}, []float64{low, high})
	low, high = s.Interval(0.90) // q = 90, r = 5
	assert.Equal(t, []float64{5, 95}, []float64{low, high})
	low, high = s.Interval(0.999) // q = 100 > M - 1: all there is
	assert.Equal(t, []float64{1, 100}, []float64{low, high})
}

func TestSampleTooSmall(t *testing.T) {
	for _, s := range []Sample{nil, {1}} {
		low, high := s.Interval(0.95)
		assert.True(t, math.IsNaN(low) && math.IsNaN(high))
		assert.True(t, math.IsNaN(s.Std()))
	}
	assert.True(t, math.IsNaN(Sample(nil).Mean()))
	assert.Panics(t, func() { Sample{1, 2}.Interval(95) })
	s := MonteCarlo(10, 1, []Distribution{NormalAbout(0, 1)}, func([]float64) float64 { return math.NaN() })
	assert.True(t, math.IsNaN(s.Mean()), "an undefined model is not hidden")
}
