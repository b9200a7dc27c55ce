package precision

import (
	"errors"
	"math"

	"gonum.org/v1/gonum/mat"
)

// Values of one cluster, such as one rider's imprints, are more alike than others:
// each tells less than a value of its own would. What follows estimates the standard
// error of a mean or a slope from the clusters' residuals, whatever makes them alike
// (Liang and Zeger, Biometrika 73 (1986) 13-22), with the correction for few clusters
// and the degrees of freedom of Bell and McCaffrey, Survey Methodology 28 (2002)
// 169-181, as Imbens and Kolesar write them, Review of Economics and Statistics 98
// (2016) 701-712. Volumes and pages are from memory; the method is held in tests to
// statsmodels and to full matrices. For clusters of one size it is, for a mean,
// Student's interval of the clusters' means.

// ClusteredMean is the standard error of the mean of values of which those of one
// cluster are alike, and its degrees of freedom. cluster has each value's cluster.
// NaN for one cluster.
func ClusteredMean(values []float64, cluster []int) (se, dof float64) {
	ones := make([]float64, len(values))
	for i := range ones {
		ones[i] = 1
	}
	return clusterRobust([][]float64{ones}, values, cluster, 0)
}

// ClusteredLine is LineOf for points of which those of one cluster are alike: the
// slope is the same, its standard error, interval and P are by cluster; NaN for fewer
// than three clusters.
func ClusteredLine(x, y []float64, cluster []int) (Line, error) {
	l, err := LineOf(x, y)
	if err != nil {
		return l, err
	}
	ones, centred, mean := make([]float64, len(x)), make([]float64, len(x)), Mean(x)
	for i := range x {
		ones[i], centred[i] = 1, x[i]-mean
	}
	l.SE, l.DoF = clusterRobust([][]float64{ones, centred}, y, cluster, 1)
	l.Interval = about(l.Slope, studentQuantile(0.975, l.DoF)*l.SE)
	l.P = 1
	if l.Slope != 0 {
		l.P = twoSidedP(l.Slope/l.SE, l.DoF)
	}
	return l, nil
}

// LimitsByCluster is LimitsOfAgreement for differences of which those of one cluster are alike. Bias,
// SD and limits are the same; their intervals are those that are wider of the two, by cluster and
// without (Angrist and Pischke, Mostly Harmless Econometrics (2009) 8.2.3; the section from memory, the
// book settles it: of few clusters the error is itself uncertain, most often too small). For the
// limits' intervals the differences count as so many as would make the mean as uncertain if each were
// of its own, (SD/SE)^2 (Kish's effective sample size, Survey Sampling (1965); the book not looked up,
// the formula is the definition of SE turned round), two at least. At least three differences and two
// clusters.
func LimitsByCluster(differences []float64, cluster []int) (Agreement, error) {
	a, err := LimitsOfAgreement(differences)
	if err != nil || len(membersOf(cluster)) == len(differences) {
		return a, err
	}
	se, dof := ClusteredMean(differences, cluster)
	if math.IsNaN(se) || math.IsNaN(dof) {
		return a, errFewClusters
	}
	t := studentQuantile(0.975, dof)
	if t*se <= (a.BiasInterval.High-a.BiasInterval.Low)/2 {
		return a, nil
	}
	z := 1.959963984540054
	n := math.Max(2, math.Pow(a.SD/se, 2))
	limitSE := a.SD * math.Sqrt(1/n+z*z/(2*(n-1)))
	a.BiasSE, a.BiasInterval = se, about(a.Bias, t*se)
	if t*limitSE > (a.UpperInterval.High-a.UpperInterval.Low)/2 {
		a.LimitSE = limitSE
		a.LowerInterval, a.UpperInterval = about(a.Lower, t*limitSE), about(a.Upper, t*limitSE)
	}
	return a, nil
}

// errFewClusters is the error of too few clusters: one for a mean, two for a line.
var errFewClusters = errors.New("too few clusters to tell how they scatter")

// LineByCluster is LineOf for points of which those of one cluster are alike, with
// the wider of the intervals by cluster and without, as LimitsByCluster.
func LineByCluster(x, y []float64, cluster []int) (Line, error) {
	plain, err := LineOf(x, y)
	if err != nil || len(membersOf(cluster)) == len(x) {
		return plain, err
	}
	l, err := ClusteredLine(x, y, cluster)
	switch {
	case err != nil:
		return l, err
	case math.IsNaN(l.SE) || math.IsNaN(l.DoF):
		return l, errFewClusters
	case l.Interval.High-l.Interval.Low <= plain.Interval.High-plain.Interval.Low:
		return plain, nil
	}
	return l, nil
}

// clusterRobust is the standard error of a coefficient of the least-squares fit of y
// on columns, and its degrees of freedom. With X the columns, B = (X'X)^-1 and H_g the
// part of XBX' within cluster g, the variance is the sum over the clusters of
//
//	(a_g'e_g)^2, a_g = (I - H_g)^-1/2 X_g B l
//
// e the residuals and l the coefficient. The degrees of freedom are tr(M)^2 / tr(M^2),
// M the covariance of all a_g'e_g were y's values alike and independent.
func clusterRobust(columns [][]float64, y []float64, cluster []int, coefficient int) (se, dof float64) {
	p, members := len(columns), membersOf(cluster)
	if len(members) <= p {
		return math.NaN(), math.NaN() // they say nothing of how clusters scatter
	}
	x := mat.NewDense(len(y), p, nil)
	for k, c := range columns {
		x.SetCol(k, c)
	}
	var xx, inverse mat.SymDense
	xx.SymOuterK(1, x.T())
	var factor mat.Cholesky
	if !factor.Factorize(&xx) || factor.InverseTo(&inverse) != nil {
		return math.NaN(), math.NaN()
	}
	residual := mat.NewVecDense(len(y), y)
	var beta, fitted mat.VecDense
	if factor.SolveVecTo(&beta, columnTimes(x, residual)) != nil {
		return math.NaN(), math.NaN()
	}
	fitted.MulVec(x, &beta)
	var e mat.VecDense
	e.SubVec(residual, &fitted)
	var root mat.Cholesky // B = L L'
	if !root.Factorize(&inverse) {
		return math.NaN(), math.NaN()
	}
	var lower mat.TriDense
	root.LTo(&lower)
	var variance, trace, square float64
	total := mat.NewSymDense(p, nil)
	for _, at := range members {
		g := clusterOf(x, &e, &lower, &inverse, at, coefficient)
		variance += g.sum * g.sum
		trace += g.own
		square += g.own*g.own - math.Pow(mat.Dot(g.share, g.share), 2)
		total.SymRankOne(total, 1, g.share)
	}
	var product mat.Dense
	product.Mul(total, total)
	return math.Sqrt(variance), trace * trace / (square + mat.Trace(&product))
}

func columnTimes(x *mat.Dense, v mat.Vector) *mat.VecDense {
	var out mat.VecDense
	out.MulVec(x.T(), v)
	return &out
}

// membersOf are the places of each cluster's values, in the order in which the
// clusters come.
func membersOf(cluster []int) (members [][]int) {
	place := make(map[int]int)
	for i, c := range cluster {
		k, there := place[c]
		if !there {
			k = len(members)
			place[c] = k
			members = append(members, nil)
		}
		members[k] = append(members[k], i)
	}
	return members
}

// clusterPart is what a cluster adds: a'e, a'(I - H)a, and L'X'a, whose product with
// another cluster's is a'H a.
type clusterPart struct {
	sum, own float64
	share    *mat.VecDense
}

// clusterOf takes the root of I - H_g, whose rank is that of I but for as many
// directions as there are columns, from the small matrix Z'Z, Z = X_g L.
func clusterOf(
	x *mat.Dense, e *mat.VecDense, lower *mat.TriDense, inverse *mat.SymDense, at []int, coefficient int,
) clusterPart {
	_, p := x.Dims()
	z, a, rest := mat.NewDense(len(at), p, nil), mat.NewVecDense(len(at), nil), mat.NewVecDense(len(at), nil)
	var zRow, weights mat.VecDense
	unit := mat.NewVecDense(p, nil)
	unit.SetVec(coefficient, 1)
	weights.MulVec(inverse, unit)
	for k, i := range at {
		zRow.MulVec(lower.T(), x.RowView(i))
		z.SetRow(k, zRow.RawVector().Data)
		a.SetVec(k, mat.Dot(&weights, x.RowView(i)))
		rest.SetVec(k, e.AtVec(i))
	}
	var small mat.SymDense
	small.SymOuterK(1, z.T())
	var eigen mat.EigenSym
	if !eigen.Factorize(&small, true) {
		return clusterPart{math.NaN(), math.NaN(), mat.NewVecDense(p, nil)}
	}
	var vectors mat.Dense
	eigen.VectorsTo(&vectors)
	za := columnTimes(z, a)
	for k, d := range eigen.Values(nil) {
		direction := vectors.ColView(k)
		var along mat.VecDense
		along.MulVec(z, direction)
		a.AddScaledVec(a, rootExcess(d)*mat.Dot(direction, za), &along)
	}
	share := columnTimes(z, a)
	return clusterPart{mat.Dot(a, rest), mat.Dot(a, a) - mat.Dot(share, share), share}
}

// rootExcess is ((1-d)^-1/2 - 1)/d, d a cluster's weight in a direction of the fit; a
// cluster that alone decides a direction says nothing of its scatter.
func rootExcess(d float64) float64 {
	switch {
	case d < 1e-12:
		return 0.5
	case d > 1-1e-9:
		return -1 / d
	}
	return (1/math.Sqrt(1-d) - 1) / d
}
