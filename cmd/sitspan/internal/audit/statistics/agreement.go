package statistics

import (
	"maps"
	"math"
	"slices"

	"sitspan/calibration/precision"
)

// Interval is a 95 % interval.
type Interval [2]float64

// Holds says whether the interval holds a value.
func (i Interval) Holds(v float64) bool { return i[0] <= v && v <= i[1] }

// Agreement is Bland and Altman's: bias, SD and 95 % limits of agreement, with
// the confidence intervals of all.
type Agreement struct {
	N            int      `json:"n"`
	Bias         float64  `json:"bias_mm"`
	BiasInterval Interval `json:"bias_interval_mm"` // by the differences' scatter alone
	// BiasWithShared adds what all new measurements have in common.
	BiasWithShared Interval `json:"bias_interval_with_shared_mm"`
	SD             float64  `json:"sd_mm"`
	Lower          float64  `json:"lower_limit_mm"`
	LowerInterval  Interval `json:"lower_limit_interval_mm"`
	Upper          float64  `json:"upper_limit_mm"`
	UpperInterval  Interval `json:"upper_limit_interval_mm"`
}

// Group is the agreement of a part of the rows. With fewer than three only the
// mean is told.
type Group struct {
	Name      string     `json:"name"`
	N         int        `json:"n"`
	Mean      float64    `json:"mean_mm"`
	Agreement *Agreement `json:"agreement,omitempty"`
}

// sharedU is the standard uncertainty of the mean of n new measurements that
// comes from what they have in common: each source acts on all its pictures
// alike, so its contributions add up as they are (JCGM 100:2008, 5.2.2, note 1),
// and the sources in quadrature. sums are the contributions by source.
func sharedU(sums map[string]float64, n int) float64 {
	var square float64
	for _, source := range slices.Sorted(maps.Keys(sums)) {
		square += math.Pow(sums[source]/float64(n), 2)
	}
	return math.Sqrt(square)
}

// agreementOf is nil for fewer than three differences, and where all are one rider's.
// A rider's imprints are more alike than others; the intervals are by rider.
func agreementOf(pairs []*Pair, shared float64) *Agreement {
	a, err := precision.LimitsByCluster(differencesOf(pairs), ridersOf(pairs))
	if err != nil {
		return nil
	}
	half := (a.BiasInterval.High - a.BiasInterval.Low) / 2
	with := math.Hypot(half, 2*shared)
	return &Agreement{
		N: a.N, Bias: Rounded(a.Bias), BiasInterval: interval(a.BiasInterval), SD: Rounded(a.SD),
		BiasWithShared: Interval{Rounded(a.Bias - with), Rounded(a.Bias + with)},
		Lower:          Rounded(a.Lower), LowerInterval: interval(a.LowerInterval),
		Upper: Rounded(a.Upper), UpperInterval: interval(a.UpperInterval),
	}
}

func interval(i precision.Interval) Interval { return Interval{Rounded(i.Low), Rounded(i.High)} }

// groups are the pairs by a name, in the names' order; pairs without are left out.
func groups(pairs []*Pair, shared float64, name func(*Pair) string) []Group {
	parts := PartsOf(pairs, name)
	out := []Group{}
	for _, n := range SortedNames(parts) {
		g := Group{Name: n, N: len(parts[n]), Mean: Rounded(precision.Mean(differencesOf(parts[n])))}
		g.Agreement = agreementOf(parts[n], shared)
		out = append(out, g)
	}
	return out
}
