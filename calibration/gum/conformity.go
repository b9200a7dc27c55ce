package gum

import "gonum.org/v1/gonum/stat/distuv"

// normalFromDoF is the number of degrees of freedom from which Student's t is
// taken for the normal distribution: at 1e6 the two differ by less than 1e-6.
const normalFromDoF = 1e6

// standardised is Student's distribution about 0 with scale 1, or the normal one.
func standardised(dof float64) interface {
	CDF(float64) float64
	Quantile(float64) float64
} {
	if dof >= normalFromDoF {
		return distuv.UnitNormal
	}
	return distuv.StudentsT{Mu: 0, Sigma: 1, Nu: dof}
}

// ConformanceProbability is the probability p_c that a quantity measured as y
// with standard uncertainty u and so many degrees of freedom (+Inf: infinitely
// many) is no more than an upper tolerance limit (JCGM 106:2012, 7.3), with the
// t-distribution in place of the normal where they are few (JCGM 101:2008,
// 6.4.9). Where u is 0 the answer is 0 or 1.
func ConformanceProbability(y, u, dof, upper float64) float64 {
	switch {
	case u > 0:
		return standardised(dof).CDF((upper - y) / u)
	case y <= upper:
		return 1
	}
	return 0
}

// GuardBand is w, by how much a measured value must stay below an upper
// tolerance limit to meet it with at least the given probability: u times that
// quantile (JCGM 106:2012, 8.3.2). It is in the unit of u.
func GuardBand(u, dof, probability float64) float64 {
	return u * standardised(dof).Quantile(probability)
}
