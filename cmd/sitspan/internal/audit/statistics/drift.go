package statistics

import (
	"math"
	"slices"

	"sitspan/calibration/precision"
)

// Slope is a straight line's slope with its 95 % interval.
type Slope struct {
	Slope    float64  `json:"slope"`
	Interval Interval `json:"interval"`
	P        float64  `json:"p"` // of a slope so far from zero by chance
}

// Drift is how a fitter's differences went over time, in mm a year.
type Drift struct {
	Fitter string  `json:"fitter"`
	N      int     `json:"n"`
	Years  float64 `json:"years"` // from the first reading to the last
	Slope
	// Drifts says that chance alone is a poor explanation: P below 0.05 shared
	// among the fitters that were looked at (Bonferroni).
	Drifts bool `json:"drifts"`
}

// driftLevel is the chance of naming any fitter who does not drift.
const driftLevel = 0.05

// leastDriftReadings is how many dated readings a drift is looked for in.
const leastDriftReadings = 5

// drifts looks at every fitter with dated readings over some time.
func drifts(pairs []*Pair) []Drift {
	out := []Drift{}
	parts := PartsOf(pairs, fitterOf)
	for _, fitter := range SortedNames(parts) {
		if d, ok := driftOf(parts[fitter]); ok {
			d.Fitter = fitter
			out = append(out, d)
		}
	}
	for i := range out {
		out[i].Drifts = out[i].P < driftLevel/float64(len(out))
	}
	return out
}

// driftOf is the line of the differences over the years.
func driftOf(pairs []*Pair) (d Drift, ok bool) {
	line, ok := DriftLine(pairs)
	if !ok {
		return d, false
	}
	years, _ := overTime(Dated(pairs))
	return Drift{N: len(years), Years: Rounded(slices.Max(years) - slices.Min(years)), Slope: line}, true
}

// DriftLine is the slope of the differences over the years, in mm a year; false
// where there are too few dated pairs or all are of one time.
func DriftLine(pairs []*Pair) (Slope, bool) {
	dated := Dated(pairs)
	if len(dated) < leastDriftReadings {
		return Slope{}, false
	}
	years, differences := overTime(dated)
	return lineOf(years, differences, ridersOf(dated))
}

// overTime is when the dated pairs were read, in years, and their differences.
func overTime(dated []*Pair) (years, differences []float64) {
	for _, p := range dated {
		years, differences = append(years, p.Years()), append(differences, p.Difference)
	}
	return years, differences
}

// lineOf is the least-squares line of y on x, with its interval by rider.
func lineOf(x, y []float64, riders []int) (Slope, bool) {
	l, err := precision.LineByCluster(x, y, riders)
	if err != nil || math.IsNaN(l.P) {
		return Slope{}, false
	}
	return slopeOf(l), true
}

func slopeOf(l precision.Line) Slope {
	return Slope{
		Slope:    fine(l.Slope),
		Interval: Interval{fine(l.Interval.Low), fine(l.Interval.High)},
		P:        fine(l.P),
	}
}

// fine is a slope to a hundred-thousandth.
func fine(v float64) float64 { return math.Round(v*1e5)/1e5 + 0 }
