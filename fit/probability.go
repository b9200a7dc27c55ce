package fit

import (
	"math"

	"gonum.org/v1/gonum/integrate/quad"
	"gonum.org/v1/gonum/stat/distuv"

	"sitspan/calibration/gum"
)

// slackMM is what binary arithmetic may add to a sum of two lengths: 125.1 +
// 19.9 must still go into 145. It is a nanometre, and no tolerance of the rule.
const slackMM = 1e-6

// probabilityWithin is P(X <= limit) for a quantity with estimate x, standard
// uncertainty u and nu degrees of freedom: the conformance probability at a
// single upper tolerance limit (JCGM 106:2012, 7.3), with slackMM where it is
// certain. With u = 0 it is 1 or 0.
func probabilityWithin(x, u, nu, limit float64) float64 {
	if u == 0 {
		limit += slackMM
	}
	return gum.ConformanceProbability(x, u, nu, limit)
}

// jointProbability is P(A and B) for two events of probability pa and pb whose
// underlying quantities have correlation rho >= 0, joined by a normal copula:
// the bivariate normal distribution function at the two quantiles. Its margins
// are exactly pa and pb, whatever their degrees of freedom. With rho = 1 it is
// the smaller of the two, with rho = 0 their product.
func jointProbability(pa, pb, rho float64) float64 {
	small, large := math.Min(pa, pb), math.Max(pa, pb)
	if small <= 0 || large >= 1 || rho >= 1-1e-9 {
		return small
	}
	return bivariateNormal(distuv.UnitNormal.Quantile(pa), distuv.UnitNormal.Quantile(pb), rho)
}

// bivariateNormal is P(X <= h, Y <= k) for standard normal X and Y with
// correlation rho, 0 <= rho < 1, by Plackett's identity (R. L. Plackett,
// Biometrika 41 (1954) 351, as A. Genz's notes on computing it integrate it,
// math.wsu.edu, papers/bvnt):
//
//	Φ(h) Φ(k) + 1/2π ∫ exp(-(h² + k² - 2 h k sin t) / (2 cos² t)) dt, t from 0 to asin rho
//
// The integrand is smooth; where rho nears 1 it is steep only at the very end,
// and 64 Gauss-Legendre points hold it to 1e-6 (checked against direct
// integration in the tests).
func bivariateNormal(h, k, rho float64) float64 {
	density := func(t float64) float64 {
		sin, cos := math.Sincos(t)
		return math.Exp(-(h*h + k*k - 2*h*k*sin) / (2 * cos * cos))
	}
	added := quad.Fixed(density, 0, math.Asin(rho), 64, quad.Legendre{}, 0) / (2 * math.Pi)
	return distuv.UnitNormal.CDF(h)*distuv.UnitNormal.CDF(k) + added
}
