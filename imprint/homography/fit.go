package homography

import (
	"fmt"
	"math"
	"slices"

	"gonum.org/v1/gonum/mat"
	"gonum.org/v1/gonum/stat/distuv"
)

// PlaneFit is the map between a picture and the plane of its control frame.
type PlaneFit struct {
	// Lens is the distortion found or assumed.
	Lens Lens
	// CornerU is the standard uncertainty of a corner's coordinate in px,
	// estimated from the residuals where there are enough of them.
	CornerU float64
	// DegreesOfFreedom of that estimate; a parameter held by its prior counts
	// in part.
	DegreesOfFreedom float64
	// Clustering is the factor, 1 or more, by which the fit's standard
	// uncertainties were raised because the corners of a mark err together: a
	// bent frame or a lens beyond the model, not noise.
	Clustering float64
	// Residuals of all points, in the order given.
	Residuals []PointResidual
	// Marks sums them up per mark, in the order of their ids.
	Marks []MarkResidual
	// Outliers are the ids of the marks that were dropped.
	Outliers []int
	// RMSPixels and RMSMillimetres are the rms distances between the points
	// kept and their prediction, in the picture and on the plane.
	RMSPixels, RMSMillimetres float64
	// Withheld judges each mark by the others.
	Withheld Withheld

	problem *problem
	kept    []mark
	found   solution
	// covariance of the parameters for noise and clustering, and what it would
	// be if the lens terms were known exactly
	covariance, lensHeld *mat.SymDense
}

// Fit finds the plane from correspondences of at least two marks and five
// points. It returns an error, never NaN, where the points do not determine a
// plane ([ErrDegenerate], [ErrOneMark]) or do not agree on one
// ([ErrMarksDisagree]).
func Fit(points []Correspondence, o Options) (*PlaneFit, error) {
	fit, err := fitPlane(points, o)
	if err != nil {
		return nil, fmt.Errorf("frame's plane: %w", err)
	}
	return fit, nil
}

func fitPlane(points []Correspondence, o Options) (*PlaneFit, error) {
	if err := o.check(); err != nil {
		return nil, err
	}
	if err := checkPoints(points); err != nil {
		return nil, err
	}
	marks := marksOf(points)
	if err := requireEnough(marks, marks); err != nil {
		return nil, err
	}
	p := newProblem(points, o)
	matrix, agreeing, err := robustStart(p.pairs, marks, o.Seed)
	if err != nil {
		return nil, err
	}
	if err := requireEnough(agreeing, marks); err != nil {
		return nil, err
	}
	fit := &PlaneFit{problem: p}
	if err := fit.solve(matrix, marks, agreeing, o); err != nil {
		return nil, err
	}
	fit.report(marks)
	return fit, nil
}

// solve screens the marks under the lens' prior and, where they contradict
// it, again under a wider one; then it settles the covariance.
func (f *PlaneFit) solve(matrix matrix3, marks, agreeing []mark, o Options) (err error) {
	p := f.problem
	start := p.startAt(matrix)
	if f.found, f.kept, err = p.screen(start, marks, agreeing, o.outlierFloor()); err != nil {
		return err
	}
	if p.contradicted(&f.found.at) {
		f.Lens.Unusual = true
		p.setPrior(o.Lens.widened())
		if f.found, f.kept, err = p.screen(start, marks, agreeing, o.outlierFloor()); err != nil {
			return err
		}
	}
	f.Clustering = p.clustering(&f.found, f.kept).factor()
	return f.settleCovariance()
}

// contradicted reports whether the lens found lies where its prior puts less
// than one lens in a thousand.
func (p *problem) contradicted(at *parameters) bool {
	priors, sum := p.freePriors(), 0.0
	for _, index := range priors {
		prior := p.lensPriors()[index-paramK1]
		sum += math.Pow((at[index]-prior.mean)/prior.u, 2)
	}
	return len(priors) > 0 && sum > distuv.ChiSquared{K: float64(len(priors))}.Quantile(0.999)
}

// settleCovariance computes the covariance for the noise that the clustering
// leaves, with the lens terms free and with them held.
func (f *PlaneFit) settleCovariance() error {
	p := f.problem
	noise := f.found.noise * f.Clustering
	last, err := p.minimise(f.found.at, f.kept, noise)
	if err != nil {
		return err
	}
	f.covariance = p.spread(last.Unscaled)

	held := *p
	held.setPrior(LensPrior{})
	rest, err := held.minimise(f.found.at, f.kept, noise)
	if err != nil {
		return err
	}
	f.lensHeld = held.spread(rest.Unscaled)
	return nil
}

// PointResidual is what one point leaves: seen minus predicted.
type PointResidual struct {
	DX, DY float64 // px
	// Millimetres is the distance on the plane between where the point was
	// seen and where it is.
	Millimetres float64
	Inlier      bool
}

// MarkResidual sums the points of one mark up.
type MarkResidual struct {
	ID     int
	Points int // how many of its points were given
	// RMSPixels and RMSMillimetres are rms distances of its points from their
	// prediction by the fit. For an outlier that is a prediction by others.
	RMSPixels, RMSMillimetres float64
	// WithheldMillimetres is the same, predicted from the other marks only;
	// +Inf where these do not determine it.
	WithheldMillimetres float64
	Inlier              bool
}

// Withheld sums up how well each kept mark is predicted by the others: the
// judgement by points that took no part in the fit.
type Withheld struct {
	RMS       float64 // over all points of the marks judged, mm
	Worst     float64 // the worst mark's rms, mm
	WorstMark int     // its id
	Judged    int     // how many marks the others determine
}

// report fills in the lens, the residuals and the judgement.
func (f *PlaneFit) report(marks []mark) {
	p := f.problem
	f.DegreesOfFreedom = f.found.dof
	f.reportLens()
	inlier := map[int]bool{}
	for _, k := range f.kept {
		inlier[k.id] = true
	}
	f.Residuals = make([]PointResidual, len(p.pairs))
	for _, k := range marks {
		f.Marks = append(f.Marks, f.markResidual(k, inlier[k.id]))
		if !inlier[k.id] {
			f.Outliers = append(f.Outliers, k.id)
		}
	}
	u := make([]float64, 0, len(p.u))
	for _, i := range members(f.kept) {
		f.RMSPixels += math.Pow(math.Hypot(f.Residuals[i].DX, f.Residuals[i].DY), 2)
		f.RMSMillimetres += math.Pow(f.Residuals[i].Millimetres, 2)
		u = append(u, p.u[i]*p.norm.radius*f.found.noise)
	}
	slices.Sort(u)
	f.CornerU = u[len(u)/2]
	f.RMSPixels = math.Sqrt(f.RMSPixels / float64(len(u)))
	f.RMSMillimetres = math.Sqrt(f.RMSMillimetres / float64(len(u)))
	f.Withheld = f.withheld()
}

// markResidual fills in the residuals of a mark's points and sums them up.
func (f *PlaneFit) markResidual(k mark, inlier bool) MarkResidual {
	p, s := f.problem, &f.found
	out := MarkResidual{ID: k.id, Points: len(k.members), Inlier: inlier}
	for _, i := range k.members {
		r, _ := p.rows(&s.at, i)
		x, y := p.toPlaneError(s, i, r[0]/s.noise, r[1]/s.noise)
		unit := p.u[i] * p.norm.radius
		residual := PointResidual{r[0] * unit, r[1] * unit, math.Hypot(x, y), inlier}
		f.Residuals[i] = residual
		out.RMSPixels += (residual.DX*residual.DX + residual.DY*residual.DY) / float64(len(k.members))
		out.RMSMillimetres += (x*x + y*y) / float64(len(k.members))
	}
	out.RMSPixels, out.RMSMillimetres = math.Sqrt(out.RMSPixels), math.Sqrt(out.RMSMillimetres)
	out.WithheldMillimetres = out.RMSMillimetres
	if inlier {
		out.WithheldMillimetres = p.withhold(s, k, f.kept).rms
	}
	return out
}

func (f *PlaneFit) withheld() Withheld {
	var w Withheld
	points := 0
	for _, m := range f.Marks {
		if !m.Inlier || math.IsInf(m.WithheldMillimetres, 1) {
			continue
		}
		w.RMS += m.WithheldMillimetres * m.WithheldMillimetres * float64(m.Points)
		points += m.Points
		w.Judged++
		if m.WithheldMillimetres > w.Worst {
			w.Worst, w.WorstMark = m.WithheldMillimetres, m.ID
		}
	}
	if points > 0 {
		w.RMS = math.Sqrt(w.RMS / float64(points))
	}
	return w
}

func (f *PlaneFit) reportLens() {
	p, c := f.problem, f.covariance
	at := f.found.at
	f.Lens.Principal = p.norm.toPixel(at[paramCX], at[paramCY])
	f.Lens.K1, f.Lens.K2, f.Lens.Radius = at[paramK1], at[paramK2], p.norm.radius
	f.Lens.P1, f.Lens.P2 = at[paramP1], at[paramP2]
	f.Lens.UK1 = math.Sqrt(c.At(paramK1, paramK1))
	f.Lens.UK2 = math.Sqrt(c.At(paramK2, paramK2))
	f.Lens.UPrincipal = math.Sqrt(math.Max(c.At(paramCX, paramCX), c.At(paramCY, paramCY))) * p.norm.radius
	f.Lens.Constrained = p.prior.UK1 > 0 && f.Lens.UK1 < p.prior.UK1/2
}
