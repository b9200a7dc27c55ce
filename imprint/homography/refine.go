package homography

import (
	"math"

	"gonum.org/v1/gonum/mat"

	"sitspan/imprint/internal/leastsquares"
)

// problem is one fit: the points, what is assumed of the lens, and which
// parameters are free.
type problem struct {
	norm  normalisation
	pairs []pair
	u     []float64 // standard uncertainty of each point's coordinates, normalised
	prior LensPrior
	flat  bool
	free  []int // indices of the free parameters
}

func newProblem(points []Correspondence, o Options) *problem {
	p := &problem{norm: newNormalisation(points, o), prior: o.Lens, flat: o.Flat}
	for _, c := range points {
		p.pairs = append(p.pairs, p.norm.pair(c))
		u := c.U
		if u == 0 {
			u = DefaultCornerU
		}
		p.u = append(p.u, u/p.norm.radius)
	}
	p.setPrior(o.Lens)
	return p
}

// setPrior takes a lens prior over and frees the parameters that it leaves free.
func (p *problem) setPrior(prior LensPrior) {
	p.prior, p.free = prior, nil
	for j := range homographyCount {
		if p.flat && (j == 6 || j == 7) {
			continue // a scanner has no perspective
		}
		p.free = append(p.free, j)
	}
	if p.flat {
		return
	}
	for j, prior := range p.lensPriors() {
		if prior.u > 0 {
			p.free = append(p.free, paramK1+j)
		}
	}
}

// gaussian is a prior: an estimate with its standard uncertainty.
type gaussian struct{ mean, u float64 }

// lensPriors lists the priors of the parameters from paramK1 on.
func (p *problem) lensPriors() [paramCount - paramK1]gaussian {
	centre, decentring := gaussian{0, p.prior.UPrincipal}, gaussian{0, p.prior.UDecentring}
	return [...]gaussian{
		{p.prior.K1, p.prior.UK1}, {p.prior.K2, p.prior.UK2},
		centre, centre, decentring, decentring,
	}
}

// startAt puts a homography and the prior's lens together.
func (p *problem) startAt(m matrix3) parameters {
	var at parameters
	at.setMatrix(m)
	if p.flat {
		at[6], at[7] = 0, 0
		return at
	}
	for j, prior := range p.lensPriors() {
		at[paramK1+j] = prior.mean
	}
	return at
}

// solution is where a refinement ended.
type solution struct {
	at    parameters
	noise float64 // the corners' noise, as a multiple of their stated u
	dof   float64 // effective degrees of freedom of the noise
	// covariance of all parameters for that noise; rows of fixed ones are 0
	covariance *mat.SymDense
}

// rows gives the whitened residuals of point i (seen - predicted, in stated
// standard uncertainties) and their derivatives by all parameters.
func (p *problem) rows(at *parameters, i int) (r [2]float64, s sensitivity) {
	k := p.pairs[i]
	x, y, s := at.differentiate(k.px, k.py)
	return [2]float64{(k.x - x) / p.u[i], (k.y - y) / p.u[i]}, s
}

// refine minimises the reprojection error of the marks together with the
// lens' priors, which enter as added residuals. The noise of the corners is
// estimated on the way: it decides how much the priors weigh.
func (p *problem) refine(start parameters, marks []mark, noise float64) (solution, error) {
	at := start
	var found solution
	for range 3 {
		fit, err := p.minimise(at, marks, noise)
		if err != nil {
			return solution{}, err
		}
		at = p.unpack(at, fit.Parameters)
		found = solution{at: at, covariance: p.spread(fit.Unscaled)}
		found.noise, found.dof = p.noiseOf(&found, marks, noise)
		settled := math.Abs(found.noise/noise-1) < 0.01
		noise = found.noise
		if settled {
			break
		}
	}
	return found, nil
}

// minimise runs Levenberg and Marquardt's method for one level of noise.
func (p *problem) minimise(start parameters, marks []mark, noise float64) (leastsquares.Fit, error) {
	indices := members(marks)
	priors := p.freePriors()
	first := make([]float64, len(p.free))
	for j, index := range p.free {
		first[j] = start[index]
	}
	return leastsquares.Minimise(leastsquares.Problem{
		Count: 2*len(indices) + len(priors),
		Residuals: func(dst, free []float64) {
			at := p.unpack(start, free)
			for n, i := range indices {
				k := p.pairs[i]
				x, y := at.project(k.px, k.py)
				dst[2*n], dst[2*n+1] = (x-k.x)/(p.u[i]*noise), (y-k.y)/(p.u[i]*noise)
			}
			for n, index := range priors {
				prior := p.lensPriors()[index-paramK1]
				dst[2*len(indices)+n] = (at[index] - prior.mean) / prior.u
			}
		},
		Jacobian: func(columns [][]float64, free []float64) {
			at := p.unpack(start, free)
			p.jacobian(columns, &at, indices, priors, noise)
		},
	}, first, leastsquares.Options{})
}

// jacobian fills in the derivatives of minimise's residuals.
func (p *problem) jacobian(columns [][]float64, at *parameters, indices, priors []int, noise float64) {
	for n, i := range indices {
		_, s := p.rows(at, i)
		for j, index := range p.free {
			columns[j][2*n] = s.params[0][index] / (p.u[i] * noise)
			columns[j][2*n+1] = s.params[1][index] / (p.u[i] * noise)
		}
	}
	for n, prior := range priors {
		for j, index := range p.free {
			columns[j][2*len(indices)+n] = 0
			if index == prior {
				columns[j][2*len(indices)+n] = 1 / p.lensPriors()[index-paramK1].u
			}
		}
	}
}

// freePriors lists the free parameters that carry a prior.
func (p *problem) freePriors() []int {
	var priors []int
	for _, index := range p.free {
		if index >= paramK1 {
			priors = append(priors, index)
		}
	}
	return priors
}

// unpack returns base with its free parameters replaced.
func (p *problem) unpack(base parameters, free []float64) parameters {
	for j, index := range p.free {
		base[index] = free[j]
	}
	return base
}

// spread places a covariance of the free parameters in one of all.
func (p *problem) spread(c *mat.SymDense) *mat.SymDense {
	all := mat.NewSymDense(paramCount, nil)
	for a, i := range p.free {
		for b, j := range p.free[:a+1] {
			all.SetSym(i, j, c.At(a, b))
		}
	}
	return all
}

const (
	// leastNoise in px keeps a fit of perfect points from claiming that it
	// knows everything: signalised targets reach 0.02 to 0.05 px
	// (from memory; a study of such targets in phone photos would settle it).
	leastNoise = 0.02
	// dofForNoise is how many degrees of freedom make the residuals a better
	// judge of the noise than the caller's u, in the downward direction too:
	// 10 give the noise to 1/sqrt(20), a quarter.
	dofForNoise = 10
)

// noiseOf estimates the corners' noise as a multiple of their stated u, with
// its effective degrees of freedom: the number of rows less the trace of
// their hat matrix, which counts a parameter held by its prior in part only.
func (p *problem) noiseOf(s *solution, marks []mark, assumed float64) (noise, dof float64) {
	indices := members(marks)
	sum, leastU := 0.0, math.Inf(1)
	dof = float64(2 * len(indices))
	for _, i := range indices {
		r, sens := p.rows(&s.at, i)
		sum += r[0]*r[0] + r[1]*r[1]
		for axis := range 2 {
			dof -= quadratic(s.covariance, sens.params[axis]) / math.Pow(p.u[i]*assumed, 2)
		}
		leastU = math.Min(leastU, p.u[i])
	}
	if dof < 1 {
		return 1, math.Max(dof, 0)
	}
	noise = math.Sqrt(sum / dof)
	if dof < dofForNoise {
		noise = math.Max(noise, 1)
	}
	return math.Max(noise, leastNoise/(leastU*p.norm.radius)), dof
}

// members lists the indices of the marks' points.
func members(marks []mark) []int {
	var indices []int
	for _, k := range marks {
		indices = append(indices, k.members...)
	}
	return indices
}

// quadratic returns g' C g.
func quadratic(c *mat.SymDense, g [paramCount]float64) float64 {
	return bilinear(c, g, g)
}

// bilinear returns g' C h.
func bilinear(c *mat.SymDense, g, h [paramCount]float64) float64 {
	sum := 0.0
	for i := range paramCount {
		for j := range paramCount {
			sum += g[i] * c.At(i, j) * h[j]
		}
	}
	return sum
}
