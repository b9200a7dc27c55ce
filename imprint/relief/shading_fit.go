package relief

import (
	"fmt"
	"math"
	"slices"

	"sitspan/imprint/internal/leastsquares"
)

// belief is what is held of a parameter before the fit: a weak Gaussian prior.
type belief struct{ mean, sd float64 }

// beliefs are the shape's. Sizes follow what a sitting bone under clothing leaves in foam (common practice,
// no source; the training recipe draws wider). The pairs' half differences say that a rider's left and right
// are much alike. Centres and depth come from the start.
var beliefs = [shapes]belief{
	lnWidth:      {math.Log(13), 0.25}, // 10 to 17 mm
	lnOblong:     {math.Log(1.35), 0.2},
	toe:          {0.33, 0.3}, // 19 degrees toward the front
	lnFlatness:   {math.Log(1.1), 0.2},
	lnRatio:      {0, 0.2},
	basinDepth:   {0.5, 0.35},
	basinOut:     {7, 6},
	basinBack:    {3, 5},
	lnBasinX:     {math.Log(48), 0.2},
	lnBasinY:     {math.Log(47), 0.2},
	halfWidth:    {0, 0.07},
	halfOblong:   {0, 0.07},
	halfTurn:     {0, 0.13}, // the pair's yaw among it
	halfFlatness: {0, 0.07},
	lnDepth:      {math.Log(14), 1}, // the depths given say it better
}

const (
	centrePrior = 10.0  // mm: how far a start may be off; wide, so that the fit owes the start little
	rounds      = 3     // of down-weighting what does not follow the model
	huber       = 1.5   // robust deviations beyond which a cell is weighed down
	leastNoise  = 0.004 // ln of light: a quarter of a grey level in mid grey
)

// The misfit of a model hangs together: neighbouring cells err alike. It is taken as one independent error
// per patch of so many mm^2: the size of a whole dent when the shape is two bells in a basin, less when free
// bumps take up what is smooth. Found on photos and drawn windows with known truth: errors over u of 0.6 rms
// on the photos, 0.8 to 1.1 on drawn windows of shapes that the model does not have.
const (
	patchAlone    = 1200.0
	patchTogether = 400.0
)

// shadingFit is equation (2) for all photos of one imprint, ready for leastsquares.
type shadingFit struct {
	cells      []Point
	background [][]float64 // the quadratics on the cells
	looks      []*look
	sd         []float64 // priors of all photos' linear coefficients
	bumps      *bumps
	beliefs    []belief
	depth      [2]float64 // mm below the plane at the dents' middles, as given
	uDepth     [2]float64
	patch      float64 // mm^2
	paint      float64 // inflated; 0: each photo has its own
	slopes     []slope // scratch: derivatives at a cell
}

func newShadingFit(looks []*look, centres [2]Point, depth, uDepth [2]float64) *shadingFit {
	f := &shadingFit{cells: padCells(centres), looks: looks, beliefs: slices.Clone(beliefs[:]), depth: depth,
		uDepth: uDepth, patch: patchAlone}
	for i, c := range centres {
		f.beliefs[2*i], f.beliefs[2*i+1] = belief{c.X, centrePrior}, belief{c.Y, centrePrior}
	}
	if len(looks) > 1 {
		f.bumps, f.patch = layBumps(centres), patchTogether
		f.paint = paintPrior * f.inflation()
		for range f.bumps.count() {
			f.beliefs = append(f.beliefs, belief{0, bumpPrior})
		}
	}
	f.slopes = make([]slope, len(f.beliefs))
	for _, k := range looks {
		f.sd = append(f.sd, k.coefficientPriors()...)
	}
	f.background = make([][]float64, backgroundSize)
	for k := range f.background {
		f.background[k] = make([]float64, len(f.cells))
		for i, p := range f.cells {
			f.background[k][i] = quadratic(p)[k]
		}
	}
	return f
}

func (f *shadingFit) inflation() float64 { return math.Sqrt(f.patch / (padStep * padStep)) }

// start is the search's: the beliefs' means, the depths as given.
func (f *shadingFit) start() []float64 {
	t := make([]float64, len(f.beliefs))
	for j, b := range f.beliefs {
		t[j] = b.mean
	}
	t[lnDepth] = math.Log((f.depth[0] + f.depth[1]) / 2)
	t[lnRatio] = clamp(math.Log(f.depth[1]/f.depth[0]), 0.3)
	return t
}

// solved is the linear part solved for one shape.
type solved struct {
	projection
	heights []slope   // the surface on the cells
	byDepth []float64 // the data's change per mm of depth, photo by photo, unweighted
}

// rows is how many residuals the data and the linear coefficients make.
func (f *shadingFit) rows() int { return len(f.looks)*len(f.cells) + len(f.sd) }

// solve reads the photos where the shape's cells are seen and projects the linear coefficients out.
func (f *shadingFit) solve(t []float64) solved {
	s := newSurface(t, f.bumps)
	n := len(f.cells)
	out := solved{heights: make([]slope, n), byDepth: make([]float64, n*len(f.looks))}
	data := make([]float64, n*len(f.looks))
	for i, p := range f.cells {
		h := s.at(p.X, p.Y)
		out.heights[i] = slope{h.d, h.x, h.y}
		for k, l := range f.looks {
			at, by := l.view.seenAt(p, h.d)
			v, gx, gy := l.at(at)
			data[k*n+i] = (v - l.frame.At(p)) * l.weight[i]
			out.byDepth[k*n+i] = gx*by.X + gy*by.Y
		}
	}
	f.unpaint(data)
	out.projection = project(data, f.columns(out.heights), f.sd)
	return out
}

// columns are the linear terms' of all photos, weighted: a photo's are zero in the others' rows until the
// paint is shared.
func (f *shadingFit) columns(heights []slope) (columns [][]float64) {
	n := len(f.cells)
	for k, l := range f.looks {
		own := make([][]float64, terms+backgroundSize)
		for c := range own {
			own[c] = make([]float64, n*len(f.looks), f.rows())
		}
		for i, h := range heights {
			for c, v := range termsOf(h, l.view.lensFrom(f.cells[i])) {
				own[c][k*n+i] = v * l.weight[i]
			}
			for c, b := range f.background {
				own[terms+c][k*n+i] = b[i] * l.weight[i]
			}
		}
		for _, v := range own {
			f.unpaint(v)
		}
		columns = append(columns, own...)
	}
	return columns
}

func (f *shadingFit) unpaint(rows []float64) {
	if f.paint == 0 {
		return
	}
	weights := make([][]float64, len(f.looks))
	for k, l := range f.looks {
		weights[k] = l.weight
	}
	unpaint(rows, weights, f.paint)
}

// residuals are the data's, the linear coefficients', the beliefs' and the two depths', each over its
// standard deviation. Shapes that no dent has are NaN: ground that the search may not enter.
func (f *shadingFit) residuals(dst, t []float64) {
	if !plausible(t) {
		dst[0] = math.NaN()
		return
	}
	copy(dst, f.solve(t).residuals)
	rest := dst[f.rows():]
	for j, b := range f.beliefs {
		rest[j] = (t[j] - b.mean) / b.sd
	}
	s := newSurface(t, f.bumps)
	for k := range 2 {
		rest[len(t)+k] = (s.at(t[2*k], t[2*k+1]).d - f.depth[k]) / f.uDepth[k]
	}
}

func plausible(t []float64) bool {
	return t[basinDepth] > -0.5 && t[basinDepth] < 6 && math.Abs(t[lnFlatness]) < 1.2 &&
		t[lnWidth] > math.Log(4) && t[lnWidth] < math.Log(40) &&
		math.Abs(t[lnOblong]) < 1.5 && math.Abs(t[lnDepth]-math.Log(12)) < 2
}

// jacobian is the residuals' in Kaufman's form (BIT 15 (1975) 49-57), which leaves out what vanishes with the
// residuals; its product with the residuals is the exact gradient.
func (f *shadingFit) jacobian(columns [][]float64, t []float64) {
	q := f.solve(t)
	s := newSurface(t, f.bumps)
	n := len(f.cells)
	for j := range columns {
		clear(columns[j])
	}
	for i, p := range f.cells {
		s.derivatives(f.slopes, p.X, p.Y)
		for k, l := range f.looks {
			c := q.coefficients[k*(terms+backgroundSize):]
			for j, dh := range f.slopes {
				columns[j][k*n+i] = (q.byDepth[k*n+i]*dh.d - termsBy(c, q.heights[i], dh,
					l.view.lensFrom(p))) * l.weight[i]
			}
		}
	}
	for j, v := range columns {
		f.unpaint(v[:n*len(f.looks)])
		q.remove(v[:f.rows()])
		v[f.rows()+j] = 1 / f.beliefs[j].sd
	}
	f.depthJacobian(columns, &s)
}

// depthJacobian fills the last two rows: the depth at a dent's own middle, which moves with the dent.
func (f *shadingFit) depthJacobian(columns [][]float64, s *surface) {
	row := f.rows() + len(columns)
	for k := range 2 {
		h := s.derivatives(f.slopes, s.t[2*k], s.t[2*k+1])
		f.slopes[2*k].d += h.x
		f.slopes[2*k+1].d += h.y
		for j := range columns {
			columns[j][row+k] = f.slopes[j].d / f.uDepth[k]
		}
	}
}

// weigh sets the photos' noise from their misfit at a shape, and weighs down the cells that do not follow the
// model: other dents, seams, stains, shadows.
func (f *shadingFit) weigh(t []float64) error {
	s := newSurface(t, f.bumps)
	for k, l := range f.looks {
		if err := f.expose(l, &s); err != nil {
			return fmt.Errorf("photo %d: %w", k+1, err)
		}
		own := *f
		own.looks, own.sd, own.paint = []*look{l}, l.coefficientPriors(), 0
		r := own.solve(t).residuals[:len(f.cells)]
		scale(r, 1/exposed)
		l.judge(r, f.inflation())
	}
	return nil
}

// exposed is the weight of a cell before its noise is known: so high that the linear coefficients' priors are
// nothing beside it, and the residuals are the misfit's alone.
const exposed = 1e4

// expose gives that weight to the cells that a photo shows.
func (f *shadingFit) expose(l *look, s *surface) error {
	l.weight = make([]float64, len(f.cells))
	count := 0
	for i, p := range f.cells {
		at, _ := l.view.seenAt(p, s.at(p.X, p.Y).d)
		if l.shown(at) {
			l.weight[i] = exposed
			count++
		}
	}
	if count < leastCells {
		return fmt.Errorf("%w: %d of %d cells round the dents", ErrNoWindow, count, len(f.cells))
	}
	return nil
}

// judge turns residuals in ln of light into weights over the noise.
func (l *look) judge(residuals []float64, inflation float64) {
	var seen []float64
	sum := 0.0
	for i, r := range residuals {
		if l.weight[i] > 0 {
			seen = append(seen, r)
			sum += r * r
		}
	}
	sd := math.Max(leastNoise, leastsquares.RobustSD(seen))
	l.noise, l.misfit = sd*inflation, math.Sqrt(sum/float64(len(seen)))
	for i, r := range residuals {
		l.weight[i] /= exposed * l.noise
		if a := math.Abs(r); a > huber*sd {
			l.weight[i] *= math.Sqrt(huber * sd / a)
		}
	}
}

// search fits the shape in rounds.
func (f *shadingFit) search() (fit leastsquares.Fit, err error) {
	t := f.start()
	for round := range rounds {
		if err := f.weigh(t); err != nil {
			return fit, err
		}
		o := leastsquares.Options{Tolerance: 0.1, MaxIterations: 20}
		if round == rounds-1 {
			o.Tolerance = 0.02 // hundredths of a standard uncertainty: the residuals are inflated, see patchAlone
		}
		fit, err = leastsquares.Minimise(leastsquares.Problem{Count: f.rows() + len(t) + 2, Residuals: f.residuals,
			Jacobian: f.jacobian}, t, o)
		if err != nil {
			return fit, err
		}
		t = fit.Parameters
	}
	return fit, nil
}
