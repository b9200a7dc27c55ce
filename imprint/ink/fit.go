package ink

import (
	"errors"
	"fmt"
	"math"
	"slices"

	"sitspan/imprint/internal/leastsquares"

	"gonum.org/v1/gonum/mat"
)

// Mark is where one side pressed hardest.
type Mark struct {
	// X and Y are in mm, in the axes of the window.
	X, Y float64
	// Cov is the covariance of X and Y, mm^2.
	Cov [2][2]float64
}

// Reading is what the ink says of both sides.
type Reading struct {
	Left, Right Mark
	// SpacingU is the standard uncertainty of the distance between the two, mm, their correlation included.
	SpacingU float64
	// Misfit is by what factor the residuals' deviations exceed what they would amount to if every 3 mm of paper
	// erred by itself. Grain alone brings 2 to 3; more says that the marks are of no known shape. SpacingU
	// includes it.
	Misfit float64
	// Family names the kind of dent that the marks look most like, Share how sure that is, 0 to 1.
	Family string
	Share  float64
}

// Fit reads the two marks in a window of paper. light is linear, row by row, w by h values that are step mm
// apart, the first at (x0, y0) mm; start is roughly where the left and the right mark are, to some 10 mm.
// Nothing but paper and ink may be in the window; NaN stands where no paper was seen, on half of it at most.
// Where the light on the sheet is known, it should have been divided by it. Errors wrap ErrBadWindow,
// ErrNoMark, ErrOneMark, ErrManyMarks or ErrNoFit.
func Fit(light []float64, w, h int, x0, y0, step float64, start [2][2]float64) (Reading, error) {
	return fit(light, w, h, x0, y0, step, start, false)
}

// FitPhoto is Fit for a photo, in which a lamp may gleam on the sheet and paper may be brighter than the
// picture can show. That is taken for as likely as each family of marks before the photo is seen.
func FitPhoto(light []float64, w, h int, x0, y0, step float64, start [2][2]float64) (Reading, error) {
	return fit(light, w, h, x0, y0, step, start, true)
}

func fit(light []float64, w, h int, x0, y0, step float64, start [2][2]float64, photo bool) (Reading, error) {
	c, err := gather(light, w, h, x0, y0, step, cellSide)
	if err != nil {
		return Reading{}, err
	}
	if err := c.checkStart(start); err != nil {
		return Reading{}, err
	}
	f := fitter{cells: c, weight: make([]float64, len(c.white)), shine: c.shine(), loose: 1}
	if err := f.settle(start); err != nil {
		return Reading{}, err
	}
	f.compete(photo)
	if len(f.found) == 0 {
		return Reading{}, fmt.Errorf("%w: no family of marks converged", ErrNoFit)
	}
	if err := f.checkMarks(); err != nil {
		return Reading{}, err
	}
	return f.reading(), nil
}

// fitter is one fit under way.
type fitter struct {
	cells  *cells
	weight []float64
	start  []float64 // parameters that the wide family reached
	field  *field    // laid about the marks once they are known
	shine  *shine    // laid over the window
	front  float64   // +1 or -1: which way the marks' long axes converge; sheets are scanned either way up
	misfit float64
	loose  float64 // how much wider than their fits say dents are drawn
	found  []candidate
}

// candidate is one family's fit.
type candidate struct {
	model    *model
	fit      leastsquares.Fit
	evidence float64 // ln, up to a constant that all share
	share    float64
}

func (f *fitter) minimise(kind family, front float64, start []float64) (*model, leastsquares.Fit, error) {
	m := &model{cells: f.cells, family: kind, front: front, prior: kind.expectations(front), weight: f.weight,
		by: make([]float64, len(start))}
	if len(start) >= bumpy {
		m.field = f.field
		for i := parameters; i < bumpy; i++ {
			m.prior = append(m.prior, expectation{i, -1, 0, kind.bumps / bumpHeight * bumpSD})
		}
	}
	if len(start) == lit {
		m.shine = f.shine
		m.prior = expectGleams(m.prior)
	}
	problem := leastsquares.Problem{Count: m.count(), Residuals: m.residuals, Jacobian: m.jacobian}
	// A step of a tenth of the parameters' own uncertainty is not worth another iteration: it adds half a per
	// cent to it.
	fit, err := leastsquares.Minimise(problem, start, leastsquares.Options{MaxIterations: 40, Tolerance: 0.1})
	return m, fit, err
}

// settle fits the wide family, learns the grain from what it leaves, and fits it again.
func (f *fitter) settle(start [2][2]float64) error {
	for i := range f.weight {
		if !f.cells.dark[i] {
			f.weight[i] = 1 / (firstGrain * firstReach)
		}
	}
	f.start = f.guess(start)
	for pass := range 2 {
		if pass == 1 {
			f.field = f.cells.fieldAbout(f.start)
			f.start = append(f.start[:parameters:parameters], make([]float64, bumps)...)
		}
		m, fit, err := f.minimise(wideFamily, f.front, f.start)
		if err != nil && !errors.Is(err, leastsquares.ErrBadProblem) {
			return fmt.Errorf("%w: %w", ErrNoFit, err)
		}
		if err != nil {
			return err
		}
		f.start, f.misfit = fit.Parameters, m.reweigh(fit)
		f.front = 1
		if f.start[atToe]+f.start[perSide+atToe] < 0 {
			f.front = -1
		}
	}
	return nil
}

// guess are the parameters to start from.
func (f *fitter) guess(start [2][2]float64) []float64 {
	p := make([]float64, parameters)
	for _, e := range wideFamily.expectations(f.front) {
		if e.less < 0 {
			p[e.i] = e.mean
		}
	}
	for k, at := range start {
		p[k*perSide+atX], p[k*perSide+atY] = at[0], at[1]
	}
	p[atInk] = math.Log(math.Max(0.1, 1-quantile(f.cells.white, 0.01)))
	return p
}

// compete fits every family from where the wide one ended; in a photo once more in a light that gleams. In a
// scan a body competes, too, the front up or down.
func (f *fitter) compete(photo bool) {
	for _, kind := range families {
		f.enter(kind, f.front, kind.enter(f.start))
	}
	if !photo {
		f.loose = looseDents
		f.enter(bodyFamily, 1, bodyStart(f.start))
		f.enter(bodyFamily, -1, bodyStart(f.start))
	}
	for _, c := range f.found {
		if photo {
			start := append(slices.Clone(c.fit.Parameters), make([]float64, lit-bumpy)...)
			f.enter(c.model.family, c.model.front, start)
		}
	}
	f.shareOut()
}

// enter adds one candidate with its evidence (Laplace's approximation), if it converges.
func (f *fitter) enter(kind family, front float64, start []float64) {
	m, fit, err := f.minimise(kind, front, start)
	if err != nil {
		return
	}
	var chol mat.Cholesky
	if !chol.Factorize(fit.Unscaled) {
		return
	}
	z := chol.LogDet()/2 - lnVolume(m.prior)
	for _, r := range fit.Residuals {
		z -= r * r / 2
	}
	f.found = append(f.found, candidate{model: m, fit: fit, evidence: z})
}

// trust is the power to which the evidence counts. No family is the truth, and part of what is taken for
// grain is a shape that none of them has; so evidence in full would settle on one too surely.
const trust = 0.5

// shareOut shares the belief out among the candidates by their evidence, all equally likely beforehand.
func (f *fitter) shareOut() {
	best, sum := math.Inf(-1), 0.0
	for _, c := range f.found {
		best = math.Max(best, c.evidence)
	}
	for _, c := range f.found {
		sum += math.Exp(trust * (c.evidence - best))
	}
	for i := range f.found {
		f.found[i].share = math.Exp(trust*(f.found[i].evidence-best)) / sum
	}
}

// enter carries the wide family's parameters to where this family would have them.
func (k family) enter(wide []float64) []float64 {
	p := append([]float64(nil), wide...)
	for s := 0; s <= perSide; s += perSide {
		p[s+atTilt] = math.Max(-2*k.tilt, math.Min(2*k.tilt, p[s+atTilt]))
		if k.hertz {
			p[s+atLong] += bellToBall
			p[s+atWide] += bellToBall
		}
	}
	p[atFlat], p[atTail], p[atSag] = k.flat.mean, k.tail.mean, k.sag.mean
	return p
}

// best is the candidate with the largest share.
func (f *fitter) best() *candidate {
	b := &f.found[0]
	for i := range f.found {
		if f.found[i].share > b.share {
			b = &f.found[i]
		}
	}
	return b
}
