package audit

import (
	"math"

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

const yearHours = 365.25 * 24

// drifts looks at every fitter with dated readings over some time.
func drifts(pairs []*pair) []Drift {
	out := []Drift{}
	parts := partsOf(pairs, func(p *pair) string { return p.Fitter })
	for _, fitter := range sortedNames(parts) {
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
func driftOf(pairs []*pair) (d Drift, ok bool) {
	var years, differences []float64
	for _, p := range pairs {
		if !p.Date.Middle.IsZero() {
			years = append(years, float64(p.Date.Middle.Unix())/3600/yearHours)
			differences = append(differences, p.difference)
		}
	}
	if len(years) < leastDriftReadings {
		return d, false
	}
	first, last := years[0], years[0]
	for _, y := range years {
		first, last = math.Min(first, y), math.Max(last, y)
	}
	line, ok := lineOf(years, differences)
	if !ok {
		return d, false
	}
	return Drift{N: len(years), Years: rounded(last - first), Slope: line}, true
}

// lineOf is the least-squares line of y on x. precision has the line of
// differences on means; x and y are a pair's mean and difference where the pair
// is x + y/2 and x - y/2.
func lineOf(x, y []float64) (Slope, bool) {
	centre := precision.Mean(x)
	high, low := make([]float64, len(x)), make([]float64, len(x))
	for i := range x {
		high[i], low[i] = x[i]-centre+y[i]/2, x[i]-centre-y[i]/2
	}
	b, err := precision.ProportionalBiasOf(high, low)
	if err != nil || math.IsNaN(b.P) {
		return Slope{}, false
	}
	return slopeOf(b), true
}

func slopeOf(b precision.ProportionalBias) Slope {
	return Slope{Slope: fine(b.Slope), Interval: Interval{fine(b.Interval.Low), fine(b.Interval.High)}, P: fine(b.P)}
}

// fine is a slope to a hundred-thousandth.
func fine(v float64) float64 { return math.Round(v*1e5)/1e5 + 0 }

// proportional is the line of the differences on the width: a way that reads wide
// riders wider has a slope. variance is the new measurements', in mm². nil where
// there are too few.
//
// The width is the mean of reading and measurement with the inverse of their
// variances as weights, for its error does not go with the difference's. The plain
// mean's does where one scatters more than the other: a reading that is too wide by
// chance has a larger difference and a larger mean. The readings' variance is what
// the measurements' leaves of the differences'.
func proportional(pairs []*pair, variance float64) *Slope {
	var widths, differences []float64
	for _, p := range pairs {
		differences = append(differences, p.difference)
	}
	if len(pairs) < 3 {
		return nil
	}
	share := 0.5 // of the reading in the width
	if all := math.Pow(precision.SD(differences), 2); all > 0 {
		share = math.Min(1, variance/all)
	}
	for _, p := range pairs {
		widths = append(widths, p.now+share*p.difference)
	}
	line, ok := lineOf(widths, differences)
	if !ok {
		return nil
	}
	return &line
}

// Repeat is the repeatability of several readings of one rider (ISO 5725).
type Repeat struct {
	Riders   int      `json:"riders"`
	Readings int      `json:"readings"`
	SD       float64  `json:"sd_mm"`
	Interval Interval `json:"sd_interval_mm"`
	Limit    float64  `json:"limit_mm"` // two single ones differ by more in 5 % of cases
}

// repeatOf pools the riders with several imprints. Imprints of one fitter and
// rider are a group, since another fitter is another condition.
func repeatOf(pairs []*pair, value func(*pair) float64) *Repeat {
	parts := partsOf(pairs, func(p *pair) string {
		if p.Rider == "" {
			return ""
		}
		return p.Rider + "\x00" + p.Fitter
	})
	var groups [][]float64
	for _, n := range sortedNames(parts) {
		if len(parts[n]) < 2 {
			continue
		}
		var g []float64
		for _, p := range parts[n] {
			g = append(g, value(p))
		}
		groups = append(groups, g)
	}
	p, err := precision.PooledRepeatability(groups)
	if err != nil {
		return nil
	}
	return &Repeat{Riders: p.Groups, Readings: p.Readings, SD: rounded(p.SD), Interval: interval(p.Interval), Limit: rounded(p.Limit())}
}
