package surface

import (
	"errors"
	"math"
	"math/rand/v2"
	"sync"

	"gonum.org/v1/gonum/blas"
	"gonum.org/v1/gonum/blas/blas64"
	"gonum.org/v1/gonum/lapack/lapack64"
	"gonum.org/v1/gonum/mat"
)

// Shared is what the heights have in common: unknowns with a covariance, and by how much each moves each
// height.
type Shared struct {
	Covariance *mat.SymDense // m x m
	// By are three derivatives a height (in the order given to Fit) by the m unknowns: 3 x m, mm per unit of x,
	// y, z.
	By []*mat.Dense

	// Kept since both the bottoms and the grid ask for it.
	mu      sync.Mutex
	of      *Surface   // that onAlpha was worked out for
	onAlpha *mat.Dense // heights x m: by how much a root of the covariance moves the surface's weights
}

// Draws are deepest points of surfaces as they may be.
type Draws struct {
	Left, Right [][2]float64 // mm; equal length
	// Open is the share of draws in which a side's deepest point lies at the rim of what was drawn: there is no
	// bottom.
	Open [2]float64
	// Curvature of each draw about either bottom, 1/mm: of the paraboloid that fits it over BallReach.
	Curvature [2][]float64
}

// BallReach is how far about a deepest point a ball is told by its curvature, mm: some six dots, 9 mm apart.
// The curvature at the point itself is chance: of two equal balls it differed by a factor of 2.
const BallReach = 12.0

const (
	patchHalf = 14.0 // mm about a bottom in which its draws may lie
	patchSide = 2*int(patchHalf/coarse) + 1
)

// Leeway is what the heights and the shared unknowns leave open about both bottoms, from which surfaces can
// be drawn again and again.
type Leeway struct {
	places [][2]float64
	mean   []float64         // mm, at the places
	own    blas64.Triangular // U of the posterior covariance U'U at the places
	shared *mat.Dense        // places x shared unknowns: a root of what these do there; nil for none
}

// Leeway works it out for two bottoms; shared is nil for none.
func (s *Surface) Leeway(left, right Bottom, shared *Shared) (*Leeway, error) {
	l := &Leeway{places: append(patch(left), patch(right)...)}
	cross := s.cross(l.places)
	l.mean = make([]float64, len(l.places))
	for i := range l.mean {
		l.mean[i] = s.mean
	}
	blas64.Gemv(blas.Trans, 1, cross.RawMatrix(), vector(s.alpha), 1, vector(l.mean))
	var err error
	if l.own, err = s.ownRoot(l.places, cross); err != nil {
		return nil, err
	}
	if shared != nil {
		l.shared, err = s.sharedRoot(cross, shared)
	}
	return l, err
}

func vector(v []float64) blas64.Vector { return blas64.Vector{N: len(v), Inc: 1, Data: v} }

// patch are the places about a bottom, row by row.
func patch(b Bottom) (places [][2]float64) {
	for j := range patchSide {
		for i := range patchSide {
			places = append(places, [2]float64{b.X + float64(i)*coarse - patchHalf, b.Y +
				float64(j)*coarse - patchHalf})
		}
	}
	return places
}

func (s *Surface) cross(places [][2]float64) *mat.Dense {
	c := mat.NewDense(len(s.heights), len(places), nil)
	for i, h := range s.heights {
		row := c.RawRowView(i)
		for j, p := range places {
			row[j] = s.covariance(h.X, h.Y, p[0], p[1])
		}
	}
	return c
}

// whitened is U^-T K_xp, places in rows, of the heights' covariance U'U: its rows' products are what the
// heights explain.
func (s *Surface) whitened(cross *mat.Dense) (*mat.Dense, error) {
	if c := s.chol.Cond(); c > mat.ConditionTolerance {
		return nil, mat.Condition(c)
	}
	w := mat.DenseCopyOf(cross)
	u := s.chol.RawU().(mat.RawTriangular).RawTriangular()
	blas64.Trsm(blas.Left, blas.Trans, 1, u, w.RawMatrix())
	return mat.DenseCopyOf(w.T()), nil
}

// ownRoot is U of the posterior covariance U'U at the places: K_pp - K_px K^-1 K_xp.
func (s *Surface) ownRoot(places [][2]float64, cross *mat.Dense) (u blas64.Triangular, err error) {
	white, err := s.whitened(cross)
	if err != nil {
		return u, err
	}
	m := len(places)
	c := mat.NewSymDense(m, nil)
	raw := c.RawSymmetric()
	for i, a := range places {
		row := raw.Data[i*raw.Stride:]
		for j := i; j < m; j++ {
			row[j] = s.covariance(a[0], a[1], places[j][0], places[j][1])
		}
		row[i] += 1e-7 // rounding; a third of a micrometre
	}
	blas64.Syrk(blas.NoTrans, -1, white.RawMatrix(), 1, raw)
	return rootOf(c)
}

// rootOf is U of c = U'U, in c's place.
func rootOf(c *mat.SymDense) (blas64.Triangular, error) {
	u, ok := lapack64.Potrf(c.RawSymmetric())
	if !ok {
		return u, errors.New("surface: a covariance is not positive definite")
	}
	return u, nil
}

// sharedRoot is a root of what the shared unknowns do to the surface at the places: places x unknowns.
func (s *Surface) sharedRoot(cross *mat.Dense, shared *Shared) (*mat.Dense, error) {
	shared.mu.Lock()
	defer shared.mu.Unlock()
	if shared.of != s {
		through, err := s.through(shared)
		if err != nil {
			return nil, err
		}
		shared.of, shared.onAlpha = s, through
	}
	var out mat.Dense
	out.Mul(cross.T(), shared.onAlpha)
	return &out, nil
}

// through is K^-1 times a root of what the shared unknowns do to the heights: heights x unknowns.
func (s *Surface) through(shared *Shared) (*mat.Dense, error) {
	c := mat.NewSymDense(shared.Covariance.SymmetricDim(), nil)
	c.CopySym(shared.Covariance)
	u, err := rootOf(c)
	if err != nil {
		return nil, err
	}
	_, m := shared.By[0].Dims()
	by := mat.NewDense(len(s.heights), m, nil)
	for i, h := range s.heights {
		gx, gy := s.slope(h.X, h.Y)
		d, row := shared.By[s.kept[i]], by.RawRowView(i)
		x, y, z := d.RawRowView(0), d.RawRowView(1), d.RawRowView(2)
		for k := range row {
			row[k] = z[k] - gx*x[k] - gy*y[k]
		}
	}
	blas64.Trmm(blas.Right, blas.Trans, 1, u, by.RawMatrix())
	var out mat.Dense
	return &out, s.chol.SolveTo(&out, by)
}

// slope of the surface, mm/mm.
func (s *Surface) slope(x, y float64) (byX, byY float64) {
	const h = 0.5
	return (s.At(x+h, y) - s.At(x-h, y)) / (2 * h), (s.At(x, y+h) - s.At(x, y-h)) / (2 * h)
}

// Draw draws n surfaces, an even number, as the heights leave them open (own) and as the shared unknowns do
// (shared), and finds the deepest points of each. Every second draw is the one before it mirrored about the
// mean, so that chance moves the draws' average less.
func (l *Leeway) Draw(n int, own, shared bool, seed uint64) (d Draws) {
	random := rand.New(rand.NewPCG(seed, 101))
	off := zeros(n/2, len(l.places))
	var by blas64.General
	if shared {
		_, m := l.shared.Dims()
		by = zeros(n/2, m)
	}
	for k := range n / 2 {
		if own {
			normal(random, off, k)
		}
		if shared {
			normal(random, by, k)
		}
	}
	if own {
		blas64.Trmm(blas.Right, blas.NoTrans, 1, l.own, off)
	}
	if shared {
		blas64.Gemm(blas.NoTrans, blas.Trans, 1, by, l.shared.RawMatrix(), 1, off)
	}
	curvature, z := curvatures(), make([]float64, len(l.places))
	for k := range n {
		copy(z, l.mean)
		blas64.Axpy(float64(1-k%2*2), vector(off.Data[k/2*off.Stride:][:off.Cols]), vector(z))
		d.add(z, l.places, 1/float64(n), curvature)
	}
	return d
}

// add finds the deepest points of one draw, which is a share of all.
func (d *Draws) add(z []float64, places [][2]float64, share float64, curvature func([]float64) float64) {
	half := len(places) / 2
	left, open := lowest(z[:half], places[:half])
	d.Open[0] += open * share
	right, open := lowest(z[half:], places[half:])
	d.Open[1] += open * share
	d.Left, d.Right = append(d.Left, left), append(d.Right, right)
	d.Curvature[0] = append(d.Curvature[0], curvature(z[:half]))
	d.Curvature[1] = append(d.Curvature[1], curvature(z[half:]))
}

// normal fills row k.
func normal(random *rand.Rand, to blas64.General, k int) {
	row := to.Data[k*to.Stride:][:to.Cols]
	for i := range row {
		row[i] = random.NormFloat64()
	}
}

// patchFit fits the quadratic that defines a deepest point to 5 x 5 heights of the coarse grid: 4 mm about
// it.
var patchFit = quadraticFit(2*int(reach/coarse)+1, coarse)

// lowest is the deepest point of a patch, and 1 where that is at its rim.
func lowest(z []float64, places [][2]float64) (at [2]float64, open float64) {
	best := 0
	for k, v := range z {
		if v > z[best] {
			best = k
		}
	}
	const around = int(reach / coarse)
	i, j := best%patchSide, best/patchSide
	if i < around || j < around || i >= patchSide-around || j >= patchSide-around {
		if i == 0 || j == 0 || i == patchSide-1 || j == patchSide-1 {
			open = 1
		}
		return places[best], open
	}
	var window [25]float64
	for k := range window {
		window[k] = z[(j+k/5-around)*patchSide+i+k%5-around]
	}
	if dx, dy, ok := patchFit(window[:]).vertex(); ok && math.Hypot(dx, dy) <= reach {
		return [2]float64{places[best][0] + dx, places[best][1] + dy}, 0
	}
	return places[best], 0
}

// curvatures gives the curvature of a patch's heights about its middle, 1/mm. Over a whole circle slopes and
// what is oblong are at right angles to r^2, so that a line in r^2 is enough.
func curvatures() func(z []float64) float64 {
	weight := make([]float64, patchSide*patchSide)
	inside, mean, spread := 0.0, 0.0, 0.0
	square := func(k int) float64 {
		x, y := float64(k%patchSide)*coarse-patchHalf, float64(k/patchSide)*coarse-patchHalf
		return x*x + y*y
	}
	for k := range weight {
		if r2 := square(k); r2 <= BallReach*BallReach {
			inside, mean = inside+1, mean+r2
		}
	}
	mean /= inside
	for k := range weight {
		if r2 := square(k); r2 <= BallReach*BallReach {
			weight[k], spread = r2-mean, spread+(r2-mean)*(r2-mean)
		}
	}
	return func(z []float64) (c float64) {
		for k, w := range weight {
			c -= 2 * w * z[k] / spread
		}
		return c
	}
}
