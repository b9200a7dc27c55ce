package ink

import (
	"math"
	"math/rand/v2"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"sitspan/imprint/internal/leastsquares"
)

// Hertz's surface: depth 1 at the middle, half of it at the contact radius with slope -1, continuous there,
// and 4/(3 pi) / t far off, as under a point load (Johnson, Contact Mechanics, 1985, section 3.4 and
// equations 3.19 and 3.42, numbers from memory, the book settles them; the limit follows from the expansion
// of the arcsine).
func TestHertzSurface(t *testing.T) {
	for _, one := range []struct{ at, height float64 }{
		{0, 1}, {0.5, 0.875}, {1, 0.5}, {math.Sqrt2, 1 / math.Pi}, {100, 4 / (3 * math.Pi * 100)},
	} {
		h, _ := hertz(one.at)
		assert.InDelta(t, one.height, h, 1e-4*one.height+1e-12, "at %v", one.at)
	}
	inner, slope := hertz(1)
	outer, beyond := hertz(1 + 1e-9)
	assert.InDelta(t, inner, outer, 1e-8)
	assert.InDelta(t, -1, slope, 1e-9)
	assert.InDelta(t, slope, beyond, 1e-3)
}

// bellToBall says at which contact radius a ball is as wide at half its height as a bell of deviation 1:
// sqrt(2 ln 2).
func TestBallIsAsWideAsABell(t *testing.T) {
	half, _ := hertz(1)
	require.InDelta(t, 0.5, half, 1e-12)
	assert.InDelta(t, math.Log(math.Sqrt(2*math.Ln2)), bellToBall, 0.005)
}

// drawnModel is a model of a drawn scene with parameters drawn about their expectations.
func drawnModel(t *testing.T, kind family, random *rand.Rand) (*model, []float64) {
	t.Helper()
	s := usual()
	c, err := gather(s.light(), sceneW, sceneH, sceneX, sceneY, sceneStep, cellSide)
	require.NoError(t, err)
	f := fitter{cells: c, weight: make([]float64, len(c.white))}
	for i := range f.weight {
		f.weight[i] = 20
	}
	p := append(f.guess(s.rough()), make([]float64, bumps)...)
	for _, e := range kind.expectations(1) {
		if e.less < 0 {
			p[e.i] = e.mean + 0.5*e.sd*random.NormFloat64()
		}
	}
	for i := parameters; i < bumpy; i++ {
		p[i] = bumpSD * random.NormFloat64()
	}
	f.field = c.fieldAbout(p)
	m := &model{cells: c, family: kind, front: 1, prior: kind.expectations(1), weight: f.weight,
		field: f.field, by: make([]float64, bumpy)}
	return m, p
}

// lighten gives a drawn model a light that gleams and exceeds what the picture shows.
func lighten(m *model, p []float64, random *rand.Rand) (*model, []float64) {
	m.shine, m.prior, m.by = m.cells.shine(), expectGleams(m.prior), make([]float64, lit)
	p = append(p, make([]float64, lit-bumpy)...)
	p[atPaper], p[atTop] = 0.3, 0.1
	for k := range gleams {
		p[atGleam+k] = 0.05 * random.NormFloat64()
	}
	return m, p
}

// The derivatives that the fit descends by are those of the residuals: central differences err by the third
// derivative times h^2 / 6, 1e-6 of a residual of order 10 here.
func TestJacobianIsThatOfTheResiduals(t *testing.T) {
	random := rand.New(rand.NewPCG(3, 9))
	for i, kind := range append([]family{wideFamily, bodyFamily}, families...) {
		m, p := drawnModel(t, kind, random)
		if i == 0 { // a photo's
			m, p = lighten(m, p, random)
		}
		col := make([][]float64, len(p))
		for j := range col {
			col[j] = make([]float64, m.count())
		}
		m.jacobian(col, p)
		const h = 1e-5
		up, down := make([]float64, m.count()), make([]float64, m.count())
		for j := range p {
			q := append([]float64(nil), p...)
			q[j] += h
			m.residuals(up, q)
			q[j] -= 2 * h
			m.residuals(down, q)
			most, size := 0.0, 1.0
			for i := range up {
				most = math.Max(most, math.Abs((up[i]-down[i])/(2*h)-col[j][i]))
				size = math.Max(size, math.Abs(col[j][i]))
			}
			// beyond four half lengths the dent is cut to nothing, 1e-3 of its height
			assert.Less(t, most, 2e-3*size, "%s, parameter %d", kind.name, j)
		}
	}
}

// One summit is found to a hundredth of a mm where it is known: the bell's own middle, without basin and
// bumps.
func TestSummitOfABell(t *testing.T) {
	p := make([]float64, parameters)
	for _, e := range families[0].expectations(1) {
		if e.less < 0 {
			p[e.i] = e.mean
		}
	}
	p[atX], p[atY], p[perSide+atX], p[perSide+atY], p[atBasin] = -61.37, 4.21, 60, 0, -30
	s := surface{shape: family{}.shape(p, 1), field: &field{}}
	x, y := s.summit(-58, 0, near, nearGap)
	assert.InDelta(t, -61.37, x, 0.02)
	assert.InDelta(t, 4.21, y, 0.02)
}

// The place of a top is that of the quadratic through all within 4 mm, as the measurand has it: where one end
// of a ridge is pressed harder that is not the highest point. The reference is the least squares fit to a
// square of 81 x 81 points; nine of Gauss and Legendre's are exact up to the fifth order in each direction,
// and a dent is hardly more than that over 4 mm.
func TestSummitIsTheTopOfAQuadratic(t *testing.T) {
	p := make([]float64, parameters)
	for _, e := range families[0].expectations(1) {
		if e.less < 0 {
			p[e.i] = e.mean
		}
	}
	p[atX], p[perSide+atX], p[atBasin], p[atToe], p[perSide+atToe] = -60, 60, -30, 0, 0
	p[perSide+atTilt], p[atFlat], p[perSide+atLong], p[perSide+atWide] = 0.15, math.Log(3), math.Log(18),
		math.Log(10)
	s := surface{shape: family{}.shape(p, 1), field: &field{}}
	x, y := s.summit(60, 0, near, nearGap)
	highest, best := 0.0, 0.0
	for b := -12.0; b <= 12; b += 0.005 {
		if z := s.at(60, b); z > best {
			highest, best = b, z
		}
	}
	top := quadraticTop(s.at, [2]float64{x, y})[1]
	t.Logf("reading %.3f, quadratic %.3f, highest %.3f", y, top, highest)
	assert.InDelta(t, 60, x, 0.02)
	assert.Greater(t, math.Abs(top-highest), 0.3, "the two differ")
	assert.InDelta(t, top, y, 0.1*math.Abs(top-highest))
}

// A basin further out draws the summit outward, as on a rider.
func TestBasinDrawsTheSummitOutward(t *testing.T) {
	p := make([]float64, parameters)
	for _, e := range families[0].expectations(1) {
		if e.less < 0 {
			p[e.i] = e.mean
		}
	}
	p[atX], p[perSide+atX], p[atOut], p[perSide+atOut] = -60, 60, 12, 12
	s := surface{shape: family{}.shape(p, 1), field: &field{}}
	x, _ := s.summit(60, 0, near, nearGap)
	assert.Greater(t, x, 60.2)
	left, _ := s.summit(-60, 0, near, nearGap)
	assert.InDelta(t, -x, left, 0.02)
}

// The bumps' heights add up to the deviation that bumpHeight states: pi L^2 / gap^2 squares of one bump's,
// within the ripple of a lattice whose gap is its bumps' deviation (2 exp(-pi^2) of it a row, Poisson's
// summation) and its finite reach.
func TestBumpsAddUpToTheirHeight(t *testing.T) {
	c := &cells{x: []float64{-60, -58, -55}, y: []float64{0, 3, 5}}
	p := make([]float64, parameters)
	p[atX], p[perSide+atX] = -60, 60
	f := c.fieldAbout(p)
	for i := range c.x {
		sum := 0.0
		for _, b := range f.cells[i] {
			sum += b.height * b.height * bumpSD * bumpSD
		}
		assert.InEpsilon(t, 0.08, math.Sqrt(sum), 0.05, "cell %d", i)
	}
}

// spent undoes what k parameters take from the residuals of n readings: the variance of a straight mean's
// residuals is (n - 1)/n of the readings'; and it stops where nothing would be left.
func TestSpent(t *testing.T) {
	assert.InDelta(t, 10.0/9, spent(10, 1), 1e-12)
	assert.Equal(t, 1.0, spent(100, 0))
	assert.InDelta(t, 4, spent(5, 50), 1e-12)
}

// Grain that neighbours share counts as fewer readings than cells: averages of k x k white cells have a reach
// of k.
func TestCorrelationOfSharedGrain(t *testing.T) {
	const w, h = 60, 50
	random := rand.New(rand.NewPCG(1, 2))
	white := make([]float64, (w+3)*(h+3))
	for i := range white {
		white[i] = random.NormFloat64()
	}
	c := &cells{w: w, h: h, side: 3, dark: make([]bool, w*h)}
	level := make([]float64, w*h)
	plain, shared := make([]float64, w*h), make([]float64, w*h)
	for i := range plain {
		x, y := i%w, i/w
		level[i], plain[i] = 1, white[y*(w+3)+x]
		for a := range 2 {
			for b := range 2 {
				shared[i] += white[(y+a)*(w+3)+x+b] / 2
			}
		}
	}
	// the estimate's own scatter: each of six lags has a deviation of 1/sqrt(3000), cut at zero
	assert.InDelta(t, 1, c.correlation(plain, level), 0.12)
	assert.InDelta(t, 2, c.correlation(shared, level), 0.25)
}

// The number of parameters that the data settle lies between none and all of them.
func TestSettledByData(t *testing.T) {
	random := rand.New(rand.NewPCG(8, 1))
	m, p := drawnModel(t, families[0], random)
	for i := parameters; i < bumpy; i++ {
		m.prior = append(m.prior, expectation{i, -1, 0, bumpSD})
	}
	fit, err := leastsquares.Minimise(leastsquares.Problem{Count: m.count(), Residuals: m.residuals,
		Jacobian: m.jacobian}, p, leastsquares.Options{MaxIterations: 40, Tolerance: 0.1})
	require.NoError(t, err)
	k := m.settledByData(fit)
	assert.Greater(t, k, 4.0, "two middles at least")
	assert.Less(t, k, float64(bumpy))
}
