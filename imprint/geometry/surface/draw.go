package surface

import (
	"errors"
	"math"
	"math/rand/v2"

	"gonum.org/v1/gonum/mat"
)

// Shared is what the heights have in common: unknowns with a covariance, and by how much each moves each
// height.
type Shared struct {
	Covariance *mat.SymDense // m x m
	// By are three derivatives a height (in the order given to Fit) by the m unknowns: 3 x m, mm per unit of x,
	// y, z.
	By []*mat.Dense
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

// Draw draws n surfaces about both bottoms as the heights leave them open (own) and as the shared unknowns do
// (shared, nil for none), and finds the deepest points of each.
func (s *Surface) Draw(left, right Bottom, n int, own bool, shared *Shared, seed uint64) (Draws, error) {
	places := append(patch(left), patch(right)...)
	mean := mat.NewVecDense(len(places), nil)
	for i, p := range places {
		mean.SetVec(i, s.At(p[0], p[1]))
	}
	cross := s.cross(places) // heights x places
	var gain mat.Dense       // K^-1 K_xp
	if err := s.chol.SolveTo(&gain, cross); err != nil {
		return Draws{}, err
	}
	random := rand.New(rand.NewPCG(seed, 101))
	var roots []*mat.Dense
	if own {
		root, err := s.ownRoot(places, cross, &gain)
		if err != nil {
			return Draws{}, err
		}
		roots = append(roots, root)
	}
	if shared != nil {
		root, err := s.sharedRoot(&gain, shared)
		if err != nil {
			return Draws{}, err
		}
		roots = append(roots, root)
	}
	return collect(places, mean, roots, n, random), nil
}

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

// ownRoot is a root of the posterior covariance at the places: K_pp - K_px K^-1 K_xp.
func (s *Surface) ownRoot(places [][2]float64, cross, gain *mat.Dense) (*mat.Dense, error) {
	var explained mat.Dense
	explained.Mul(cross.T(), gain)
	m := len(places)
	c := mat.NewSymDense(m, nil)
	for i := range m {
		for j := i; j < m; j++ {
			a, b := places[i], places[j]
			c.SetSym(i, j, s.covariance(a[0], a[1], b[0], b[1])-(explained.At(i, j)+explained.At(j, i))/2)
		}
		c.SetSym(i, i, c.At(i, i)+1e-7) // rounding; a third of a micrometre
	}
	return rootOf(c)
}

func rootOf(c *mat.SymDense) (*mat.Dense, error) {
	var chol mat.Cholesky
	if !chol.Factorize(c) {
		return nil, errors.New("surface: a covariance is not positive definite")
	}
	var lower mat.TriDense
	chol.LTo(&lower)
	return mat.DenseCopyOf(&lower), nil
}

// sharedRoot is a root of what the shared unknowns do to the surface at the places.
func (s *Surface) sharedRoot(gain *mat.Dense, shared *Shared) (*mat.Dense, error) {
	root, err := rootOf(shared.Covariance)
	if err != nil {
		return nil, err
	}
	_, m := shared.By[0].Dims()
	by := mat.NewDense(len(s.heights), m, nil)
	for i, h := range s.heights {
		gx, gy := s.slope(h.X, h.Y)
		d := shared.By[s.kept[i]]
		for k := range m {
			by.Set(i, k, d.At(2, k)-gx*d.At(0, k)-gy*d.At(1, k))
		}
	}
	var places, out mat.Dense
	places.Mul(gain.T(), by)
	out.Mul(&places, root)
	return &out, nil
}

// slope of the surface, mm/mm.
func (s *Surface) slope(x, y float64) (byX, byY float64) {
	const h = 0.5
	return (s.At(x+h, y) - s.At(x-h, y)) / (2 * h), (s.At(x, y+h) - s.At(x, y-h)) / (2 * h)
}

// collect draws and finds the bottoms.
func collect(places [][2]float64, mean *mat.VecDense, roots []*mat.Dense, n int, random *rand.Rand) Draws {
	var d Draws
	at := mat.NewVecDense(len(places), nil)
	half := len(places) / 2
	curvature := curvatures()
	for range n {
		at.CopyVec(mean)
		for _, root := range roots {
			_, m := root.Dims()
			x := mat.NewVecDense(m, nil)
			for k := range m {
				x.SetVec(k, random.NormFloat64())
			}
			var moved mat.VecDense
			moved.MulVec(root, x)
			at.AddVec(at, &moved)
		}
		z := at.RawVector().Data
		l, open := lowest(z[:half], places[:half])
		d.Open[0] += open / float64(n)
		r, open := lowest(z[half:], places[half:])
		d.Open[1] += open / float64(n)
		d.Left, d.Right = append(d.Left, l), append(d.Right, r)
		d.Curvature[0] = append(d.Curvature[0], curvature(z[:half]))
		d.Curvature[1] = append(d.Curvature[1], curvature(z[half:]))
	}
	return d
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
		return math.Pow(float64(k%patchSide)*coarse-patchHalf, 2) + math.Pow(float64(k/patchSide)*coarse-patchHalf, 2)
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
