package precision

import (
	"fmt"
	"math"
	"slices"
)

// Outlier is a value that the rest do not explain.
type Outlier struct {
	// Index is the value's place in the sample.
	Index int
	// Value is the value.
	Value float64
	// Statistic is its distance from the mean of the values still in, itself
	// among them, in their standard deviations.
	Statistic float64
	// Critical is what Statistic exceeds by chance with the level's probability.
	Critical float64
}

// GrubbsCritical is the critical value of Grubbs' two-sided test for one
// outlier among n values (Grubbs, Technometrics 11 (1969) 1-21; by Student's t
// as in the NIST/SEMATECH e-Handbook, 1.3.5.17.1):
//
//	G = (n-1)/sqrt(n) sqrt(t^2 / (n-2+t^2)), t at level/(2n) with n-2 degrees of freedom
//
// It needs three values or more; NaN otherwise.
func GrubbsCritical(n int, level float64) float64 {
	if n < 3 {
		return math.NaN()
	}
	m := float64(n)
	t := studentQuantile(1-level/(2*m), m-2)
	return (m - 1) / math.Sqrt(m) * math.Sqrt(t*t/(m-2+t*t))
}

// Outliers names up to most values by the generalised extreme studentised
// deviate (Rosner, Technometrics 25 (1983) 165-172; NIST/SEMATECH e-Handbook,
// 1.3.5.17.3), furthest first: the value furthest from the mean is set aside,
// Grubbs' statistic is taken again of the rest, and the outliers are all values
// set aside up to the last whose statistic exceeds its critical value. Two that
// hide each other are so found, where Grubbs' test alone, most = 1, finds
// neither. The level, such as 0.05, is the chance of naming any in a clean
// normal sample; it is good for 25 values or more, fair for 15. Values all
// alike have no outlier.
func Outliers(values []float64, level float64, most int) ([]Outlier, error) {
	if err := needFinite("outliers", values, 3); err != nil {
		return nil, err
	}
	if !(level > 0 && level < 1) {
		return nil, fmt.Errorf("outliers: level %v, need a probability between 0 and 1", level)
	}
	left := make([]int, len(values))
	for i := range left {
		left[i] = i
	}
	var aside []Outlier
	named := 0
	for len(aside) < most && len(left) >= 3 {
		o, at := furthest(values, left)
		if !(o.Statistic > 0) {
			break
		}
		o.Critical = GrubbsCritical(len(left), level)
		aside = append(aside, o)
		if o.Statistic > o.Critical {
			named = len(aside)
		}
		left = slices.Delete(left, at, at+1)
	}
	return aside[:named], nil
}

// furthest finds the value furthest from the mean among those left, and its
// place in left.
func furthest(values []float64, left []int) (o Outlier, at int) {
	sample := make([]float64, len(left))
	for i, index := range left {
		sample[i] = values[index]
	}
	mean, sd := Mean(sample), SD(sample)
	for i, v := range sample {
		if d := math.Abs(v-mean) / sd; d > o.Statistic {
			o, at = Outlier{Index: left[i], Value: v, Statistic: d}, i
		}
	}
	return o, at
}
