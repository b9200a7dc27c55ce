package gum

import "gonum.org/v1/gonum/stat/distuv"

// ConformanceProbability is the probability p_c that a quantity measured as y
// with standard uncertainty u lies from lower to upper, under the normal
// distribution (JCGM 106:2012, 7.2 to 7.4). A limit of -Inf or +Inf is none.
// Where u is 0 the answer is 0 or 1.
func ConformanceProbability(y, u, lower, upper float64) float64 {
	if lower > upper {
		return 0
	}
	if u == 0 {
		if y >= lower && y <= upper {
			return 1
		}
		return 0
	}
	// The side where the difference of two numbers near 1 would lose digits is
	// turned round: Phi(b) - Phi(a) = Phi(-a) - Phi(-b).
	a, b := (lower-y)/u, (upper-y)/u
	if a > 0 {
		a, b = -b, -a
	}
	return distuv.UnitNormal.CDF(b) - distuv.UnitNormal.CDF(a)
}

// AcceptanceLimit is the largest measured value, in the quantity's unit, that
// meets an upper tolerance limit with at least the given probability: upper -
// w, with the guard band w = u Phi^-1(probability) (JCGM 106:2012, 8.3.2). For
// a lower limit take lower + w, that is -AcceptanceLimit(-lower, ...).
func AcceptanceLimit(upper, u, probability float64) float64 {
	if u == 0 {
		return upper
	}
	return upper - u*distuv.UnitNormal.Quantile(max(0, min(1, probability)))
}
