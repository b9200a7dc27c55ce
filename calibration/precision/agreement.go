package precision

import "math"

// Agreement is how far two methods differ on the same measurands (Bland and
// Altman, Lancet 1986; i: 307-310), with 95 % confidence intervals from
// Student's t.
type Agreement struct {
	// N is the number of differences.
	N int
	// Bias is the mean difference.
	Bias float64
	// BiasSE is the standard error of Bias, s/sqrt(n).
	BiasSE float64
	// BiasInterval is where the bias may be.
	BiasInterval Interval
	// SD is the standard deviation s of the differences.
	SD float64
	// Lower and Upper are the limits of agreement, within which about 95 % of
	// differences lie.
	Lower, Upper float64
	// LimitSE is the standard error of each limit.
	LimitSE float64
	// LowerInterval and UpperInterval are where the limits may be.
	LowerInterval, UpperInterval Interval
}

// LimitsOfAgreement gives bias -+ 1.96 s, with the limits' standard error s
// sqrt(1/n + 1.96^2 / 2(n-1)) (Bland and Altman, Statistical Methods in Medical
// Research 8 (1999) 135-160: read as an abstract only. A test holds the standard
// error to what repeated samples scatter by). At least three differences.
func LimitsOfAgreement(differences []float64) (Agreement, error) {
	if err := needFinite("limits of agreement", differences, 3); err != nil {
		return Agreement{}, err
	}
	n, z := float64(len(differences)), 1.959963984540054
	a := Agreement{N: len(differences), Bias: Mean(differences), SD: SD(differences)}
	a.BiasSE = a.SD / math.Sqrt(n)
	a.LimitSE = a.SD * math.Sqrt(1/n+z*z/(2*(n-1)))
	a.Lower, a.Upper = a.Bias-z*a.SD, a.Bias+z*a.SD
	t := studentQuantile(0.975, n-1)
	a.BiasInterval = about(a.Bias, t*a.BiasSE)
	a.LowerInterval = about(a.Lower, t*a.LimitSE)
	a.UpperInterval = about(a.Upper, t*a.LimitSE)
	return a, nil
}

// Normalised is the E_n number: the difference over the root sum of squares of
// both expanded uncertainties, each at about 95 %. Within -1 to 1 the two agree
// as well as they claim to (ISO/IEC 17043, annex B). Where both uncertainties
// are zero it is 0 for equal values, else infinite.
func Normalised(measured, U, reference, referenceU float64) float64 {
	d := measured - reference
	if d == 0 {
		return 0
	}
	return d / math.Hypot(U, referenceU)
}
