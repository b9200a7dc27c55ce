package proof

import "math"

// Chart is a control chart for individuals: each check is a point, and its limits come from the ranges
// between neighbours. The formulas are those of the SAS/QC user's guide, IRCHART statement, "Constructing
// Charts for Individual Measurements and Moving Ranges". NIST/SEMATECH e-Handbook, 6.3.2.2, has the same
// (www.itl.nist.gov/div898/handbook/pmc/section3/pmc322.htm: the page itself was not seen, its formula and
// its example were seen as others quote them). ISO 7870-2 from memory.
type Chart struct {
	Centre       float64 // mean of the points, mm
	Sigma        float64 // mean moving range over d2, mm
	Lower, Upper float64 // Centre -+ 3 Sigma
	MeanRange    float64 // mean of the moving ranges, mm
}

// d2 is the mean range of two values of a normal distribution of standard deviation 1, 2/sqrt(pi), to
// three digits as tables have it: 3 Sigma are 2.66 mean ranges.
const d2 = 1.128

// LeastPoints are how many points a chart needs: below it the limits are little but chance (assumed).
const LeastPoints = 5

// ChartOf makes the chart of points in the order of their dates; no chart where there are too few.
func ChartOf(points []float64) (c Chart, ok bool) {
	if len(points) < LeastPoints {
		return c, false
	}
	for i, x := range points {
		c.Centre += x / float64(len(points))
		if i > 0 {
			c.MeanRange += math.Abs(x-points[i-1]) / float64(len(points)-1)
		}
	}
	c.Sigma = c.MeanRange / d2
	c.Lower, c.Upper = c.Centre-3*c.Sigma, c.Centre+3*c.Sigma
	return c, true
}

// Rule is a sign that something has changed.
type Rule string

// The Western Electric rules, each on one side of the centre (the manual of the R package qcc, "Rules for
// Shewhart charts", has the same four).
const (
	Beyond     Rule = "beyond"       // one point beyond 3 Sigma
	TwoOfThree Rule = "two_of_three" // two of three beyond 2 Sigma
	FourOfFive Rule = "four_of_five" // four of five beyond 1 Sigma
	Eight      Rule = "eight"        // eight in a row on one side
)

var rules = []struct {
	rule         Rule
	least, among int
	sigmas       float64
}{
	{Beyond, 1, 1, 3}, {TwoOfThree, 2, 3, 2}, {FourOfFive, 4, 5, 1}, {Eight, 8, 8, 0},
}

// Sign is the first rule that a point breaks.
type Sign struct {
	At   int // the point's place
	Rule Rule
}

// Signs are the points that break a rule, with those before them.
func (c Chart) Signs(points []float64) (signs []Sign) {
	for at := range points {
		for _, r := range rules {
			if c.breaks(points[:at+1], r.least, r.among, r.sigmas) {
				signs = append(signs, Sign{at, r.rule})
				break
			}
		}
	}
	return signs
}

// breaks tells whether at least so many of the last points, the last one with them, lie beyond sigmas on one
// side.
func (c Chart) breaks(points []float64, least, among int, sigmas float64) bool {
	last := points[max(0, len(points)-among):]
	for _, side := range []float64{1, -1} {
		n := 0
		beyond := func(x float64) bool { return side*(x-c.Centre) > sigmas*c.Sigma }
		for _, x := range last {
			if beyond(x) {
				n++
			}
		}
		if n >= least && beyond(last[len(last)-1]) {
			return true
		}
	}
	return false
}
