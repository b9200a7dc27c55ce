package statistics

import (
	"cmp"
	"math"
	"slices"

	"sitspan/calibration/precision"
)

// Outlier is a reading that the fitter's others do not explain.
type Outlier struct {
	File     string  `json:"file"`
	Value    float64 `json:"mm"`          // the difference
	Residual float64 `json:"residual_mm"` // of it from the fitter's line over time
	n        int
}

// outlierLevel is the chance of naming an outlier in an audit that has none.
const outlierLevel = 0.05

// MostOutliers is how many are looked for: of more, it is not single readings that
// are odd.
const MostOutliers = 500

// leastTested is how many readings a fitter is tested by alone; those with fewer are
// tested together.
const leastTested = 15

// nameOutliers names the pairs that their fitter's others do not explain, the
// furthest first, and gives their places. They are looked for by the distance from
// the fitter's line over time, so that neither a drift hides a slip nor slips hide one
// another.
func nameOutliers(pairs []*Pair) ([]Outlier, map[int]bool) {
	tested := testedTogether(pairs)
	found, places := []Outlier{}, make(map[int]bool)
	for _, group := range tested {
		most := min(MostOutliers, max(2, len(group)/5))
		named, err := precision.OutliersOfLine(
			timesOf(group), differencesOf(group), outlierLevel/float64(len(tested)), most,
		)
		if err != nil {
			continue // fewer than three
		}
		for _, o := range named {
			p := group[o.Index]
			found = append(found, Outlier{p.File, Rounded(p.Difference), Rounded(o.Value), p.N})
		}
	}
	slices.SortStableFunc(found, func(a, b Outlier) int {
		return cmp.Or(cmp.Compare(math.Abs(b.Residual), math.Abs(a.Residual)), cmp.Compare(a.n, b.n))
	})
	found = found[:min(MostOutliers, len(found))]
	for _, o := range found {
		places[o.n] = true
	}
	return found, places
}

// testedTogether are the pairs by fitter, those of fitters with few as one.
func testedTogether(pairs []*Pair) (tested [][]*Pair) {
	var few []*Pair
	parts := PartsOf(pairs, func(p *Pair) string { return "of " + p.Fitter })
	for _, name := range SortedNames(parts) {
		if part := parts[name]; len(part) >= leastTested {
			tested = append(tested, part)
		} else {
			few = append(few, part...)
		}
	}
	if len(few) > 0 {
		tested = append(tested, few)
	}
	return tested
}

// timesOf are the pairs' times in years; those that are not dated stand at the mean
// of the others, where they turn no line.
func timesOf(pairs []*Pair) []float64 {
	middle := 0.0
	if dated, _ := overTime(Dated(pairs)); len(dated) > 0 {
		middle = precision.Mean(dated)
	}
	times := make([]float64, len(pairs))
	for i, p := range pairs {
		if times[i] = p.Years(); math.IsNaN(times[i]) {
			times[i] = middle
		}
	}
	return times
}
