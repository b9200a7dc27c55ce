package precision

import (
	"cmp"
	"errors"
	"fmt"
	"math"
	"slices"
)

// mostForMedians is how many points make the line of repeated medians, which takes
// time with their square; of more, every so many-th in the order of x.
const mostForMedians = 500

// rosnersLeast is how many values Rosner's critical values are good for.
const rosnersLeast = 25

// OutliersOfLine names up to most points that the others' straight line does not
// explain, furthest first. The points are ordered by their distance from the line of
// repeated medians, which they cannot pull; then each in turn is set aside and judged
// by its studentised residual from the least-squares line of the rest, and the
// outliers are all up to the last that exceeds its critical value: Outliers' rule for
// a line (Paul and Fung, Technometrics 33 (1991) 339-348; from memory, the paper settles
// who was first; tests hold the level), with an order
// in which outliers cannot hide one another. A point's Statistic is Student's t with
// n-3 degrees of freedom, n the points with it, and level/n its share of the level.
// Below 25 points, where the rule lets through more than the level, each of the steps
// has its share of it. Points all at one x are judged by Outliers. Value is the distance from the line of
// those that are left.
func OutliersOfLine(x, y []float64, level float64, most int) ([]Outlier, error) {
	const what = "outliers of a line"
	if err := errors.Join(needFinite(what, x, 3), needFinite(what, y, 3)); err != nil {
		return nil, err
	}
	if !(level > 0 && level < 1) || most < 1 {
		return nil, fmt.Errorf(
			"outliers of a line: level %v and at most %d, need a probability between 0 and 1 and 1 or more",
			level, most,
		)
	}
	slope, intercept := RepeatedMedians(inOrder(x, y))
	if math.IsNaN(slope) {
		return Outliers(y, level, most)
	}
	order := make([]int, len(x)) // the furthest last
	distance := make([]float64, len(x))
	for i := range order {
		order[i], distance[i] = i, math.Abs(y[i]-intercept-slope*x[i])
	}
	slices.SortStableFunc(order, func(i, k int) int { return cmp.Compare(distance[i], distance[k]) })
	if len(x) < rosnersLeast {
		level /= float64(most)
	}
	var aside []Outlier
	named := 0
	for len(aside) < most && len(order) > 3 {
		last := len(order) - 1
		o, ok := deleted(x, y, order[:last], order[last], level)
		if !ok {
			break
		}
		if aside = append(aside, o); o.Statistic > o.Critical {
			named = len(aside)
		}
		order = order[:last]
	}
	return aside[:named], nil
}

// inOrder are the points in the order of x, every so many-th where there are many.
func inOrder(x, y []float64) (fewX, fewY []float64) {
	order := make([]int, len(x))
	for i := range order {
		order[i] = i
	}
	slices.SortStableFunc(order, func(i, k int) int { return cmp.Compare(x[i], x[k]) })
	every := (len(order) + mostForMedians - 1) / mostForMedians
	for i := 0; i < len(order); i += every {
		fewX, fewY = append(fewX, x[order[i]]), append(fewY, y[order[i]])
	}
	return fewX, fewY
}

// deleted judges a point by the line of the others: the difference over the standard
// error of predicting it. false where they make no line, or lie on one.
func deleted(x, y []float64, others []int, i int, level float64) (Outlier, bool) {
	ox, oy := make([]float64, len(others)), make([]float64, len(others))
	for k, j := range others {
		ox[k], oy[k] = x[j], y[j]
	}
	l, err := LineOf(ox, oy)
	if err != nil || !(l.SE > 0) {
		return Outlier{}, false
	}
	n := float64(len(others))
	xx := math.Pow(SD(ox), 2) * (n - 1)
	mean := Mean(ox)
	away := y[i] - (Mean(oy) + l.Slope*(x[i]-mean))
	se := l.SE * math.Sqrt(xx) * math.Sqrt(1+1/n+(x[i]-mean)*(x[i]-mean)/xx)
	critical := studentQuantile(1-level/(2*(n+1)), l.DoF)
	return Outlier{Index: i, Value: away, Statistic: math.Abs(away) / se, Critical: critical}, true
}
