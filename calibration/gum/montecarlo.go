package gum

import (
	"fmt"
	"math"
	"math/rand/v2"
	"slices"

	"gonum.org/v1/gonum/stat/distuv"
)

// Distribution draws one possible value of an input (JCGM 101:2008, clause 6).
type Distribution func(random *rand.Rand) float64

// NormalAbout draws from the normal distribution with the estimate and its
// standard uncertainty (JCGM 101, 6.4.7).
func NormalAbout(estimate, u float64) Distribution {
	return func(random *rand.Rand) float64 { return estimate + u*random.NormFloat64() }
}

// RectangularAbout draws evenly from estimate -+ halfWidth (JCGM 101, 6.4.2).
func RectangularAbout(estimate, halfWidth float64) Distribution {
	return func(random *rand.Rand) float64 { return estimate + halfWidth*(2*random.Float64()-1) }
}

// TriangularAbout draws from the triangle over estimate -+ halfWidth (JCGM
// 101, 6.4.5).
func TriangularAbout(estimate, halfWidth float64) Distribution {
	return func(random *rand.Rand) float64 {
		return estimate + halfWidth*(random.Float64()-random.Float64())
	}
}

// StudentAbout draws from Student's distribution shifted to the mean of
// readings and scaled by the standard uncertainty u of that mean, as MeanOf
// gives them with its degrees of freedom (JCGM 101, 6.4.9).
func StudentAbout(mean, u, dof float64) Distribution {
	return func(random *rand.Rand) float64 {
		return distuv.StudentsT{Mu: mean, Sigma: u, Nu: dof, Src: random}.Rand()
	}
}

// MonteCarlo propagates distributions through the model (JCGM 101, clause 7):
// so many trials, each the model at inputs drawn independently. The same seed
// gives the same sample. Trials for which the model is NaN are kept and make
// the sample's mean NaN: an undefined result is not left out quietly. The model
// must not keep its argument.
func MonteCarlo(trials int, seed uint64, inputs []Distribution, model func(inputs []float64) float64) Sample {
	random := rand.New(rand.NewPCG(seed, 0x4a43474d313031)) // the stream is fixed, the seed chooses its start
	drawn, sample := make([]float64, len(inputs)), make(Sample, trials)
	for i := range sample {
		for k, draw := range inputs {
			drawn[k] = draw(random)
		}
		sample[i] = model(drawn)
	}
	slices.Sort(sample)
	return sample
}

// Sample is a discrete approximation of the output's distribution: the model's
// values in ascending order (JCGM 101, 7.5), in the output's unit.
type Sample []float64

// Mean is the average (JCGM 101, equation 16).
func (s Sample) Mean() float64 {
	if len(s) == 0 {
		return math.NaN()
	}
	// Shifted by the median, so that a small spread about a large value sums
	// without loss.
	middle, sum := s[len(s)/2], 0.0
	for _, y := range s {
		sum += y - middle
	}
	return middle + sum/float64(len(s))
}

// Std is the standard deviation about the average (JCGM 101, equation 17); NaN
// for a sample of fewer than two.
func (s Sample) Std() float64 {
	if len(s) < 2 {
		return math.NaN()
	}
	mean, sum := s.Mean(), 0.0
	for _, y := range s {
		sum += (y - mean) * (y - mean)
	}
	return math.Sqrt(sum / float64(len(s)-1))
}

// Interval is the probabilistically symmetric coverage interval for the
// coverage probability p (JCGM 101, 7.7.2); NaN for a sample of fewer than
// two.
func (s Sample) Interval(p float64) (low, high float64) {
	q, ok := s.span(p)
	if !ok {
		return math.NaN(), math.NaN()
	}
	// 7.7.2 with its ranks r counted from 1; here from 0.
	r := (len(s)-q+1)/2 - 1
	return s[r], s[r+q]
}

// span is q, the number of ranks that an interval of probability p stretches
// over: pM rounded to the nearest integer (JCGM 101, 7.7.2).
func (s Sample) span(p float64) (q int, ok bool) {
	if !(p > 0 && p < 1) {
		panic(fmt.Sprintf("gum: coverage probability %v, need one between 0 and 1", p))
	}
	return min(int(p*float64(len(s))+0.5), len(s)-1), len(s) >= 2
}

// NumericalTolerance is delta = 10^l / 2 for a standard uncertainty u written
// as an integer of the given number of significant digits times 10^l (JCGM
// 101, 7.9.2): what two results may differ by and still be called the same.
func NumericalTolerance(u float64, digits int) float64 {
	l := math.Floor(math.Log10(u)) - float64(digits-1)
	// 0.999 with two digits is 1.0, not 0.100e1 with three.
	if math.Round(u/math.Pow(10, l)) >= math.Pow(10, float64(digits)) {
		l++
	}
	return math.Pow(10, l) / 2
}

// Validates says whether the sample confirms the interval low to high that the
// law of propagation gave for the coverage probability p: both ends within the
// tolerance of the symmetric interval's (JCGM 101, 8.1).
func (s Sample) Validates(low, high, p, tolerance float64) bool {
	l, h := s.Interval(p)
	return math.Abs(low-l) <= tolerance && math.Abs(high-h) <= tolerance
}
