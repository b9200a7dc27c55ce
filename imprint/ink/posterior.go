package ink

import (
	"math"
	"math/rand/v2"

	"gonum.org/v1/gonum/mat"
)

const (
	draws     = 160  // of the parameters, over all families
	leastDraw = 24   // from a family that is drawn from at all
	leastPart = 0.01 // share below which a family is left out
	near      = 16.0 // mm from the most likely summit within which a draw's summit is sought
	nearGap   = 4.0  // mm between the points of that search
)

// quantities are what is read off one draw: both summits.
type quantities [4]float64

const (
	ofX = 0 // left, then right
	ofY = 2
)

// moments are sums over weighted draws.
type moments struct {
	weight float64
	sum    quantities
	square [4][4]float64
}

func (m *moments) add(q quantities, weight float64) {
	m.weight += weight
	for i, a := range q {
		m.sum[i] += weight * a
		for j, b := range q {
			m.square[i][j] += weight * a * b
		}
	}
}

func (m *moments) mean(i int) float64 { return m.sum[i] / m.weight }

func (m *moments) cov(i, j int) float64 {
	return m.square[i][j]/m.weight - m.mean(i)*m.mean(j)
}

// posterior draws surfaces from each family's normal approximation, as many as its share deserves, and reads
// the summit of each. The summit of a flat top is no linear function of the parameters, so this is done by
// drawing and not by derivatives (JCGM 101). The seed is fixed: the same photo gives the same answer.
func (f *fitter) posterior() *moments {
	all := &moments{}
	random := rand.New(rand.NewPCG(20, 11))
	for _, c := range f.found {
		if c.share < leastPart {
			continue
		}
		n := max(leastDraw, int(c.share*draws))
		c.draw(random, n, f.loose, func(q quantities) { all.add(q, c.share/float64(n)) })
	}
	return all
}

// looseDents is by how much wider than their fits say the dents' parameters are drawn in a scan. On 80 drawn
// scans of bodies that served for tuning the distance's errors were 1.7 times u where dents were most likely,
// and 1.1 where a body was.
const looseDents = 1.3

// draw hands out n draws, in pairs that mirror each other about the most likely parameters; dents are drawn
// loose times as wide as their fit says.
func (c *candidate) draw(random *rand.Rand, n int, loose float64, hand func(quantities)) {
	if c.model.family.body {
		loose = 1
	}
	p := c.fit.Parameters
	var chol mat.Cholesky
	if !chol.Factorize(c.fit.Unscaled) {
		return
	}
	var root mat.TriDense
	chol.LTo(&root)
	from := c.summits()
	s := surface{field: c.model.field}
	z, q := make([]float64, len(p)), make([]float64, len(p))
	for t := range n {
		for i := range z {
			if z[i] = -z[i]; t%2 == 0 {
				z[i] = random.NormFloat64()
			}
		}
		for i := range q {
			q[i] = p[i]
			for j := 0; j <= i; j++ {
				q[i] += loose * root.At(i, j) * z[j]
			}
		}
		s.shape = c.model.family.shape(q, c.model.front)
		s.bumps = q[parameters:bumpy]
		hand(read(&s, from))
	}
}

// summits are those of the most likely surface.
func (c *candidate) summits() (at [2][2]float64) {
	s := surface{shape: c.model.family.shape(c.fit.Parameters, c.model.front), field: c.model.field,
		bumps: c.fit.Parameters[parameters:bumpy]}
	for k := range at {
		x, y := s.shape.middle(k)
		at[k][0], at[k][1] = s.summit(x, y, 24, nearGap)
	}
	return at
}

// read takes from one surface what a reading is made of.
func read(s *surface, from [2][2]float64) (q quantities) {
	for k := range from {
		q[ofX+k], q[ofY+k] = s.summit(from[k][0], from[k][1], near, nearGap)
	}
	return q
}

// reading sums the posterior up.
func (f *fitter) reading() Reading {
	m := f.posterior()
	b := f.best()
	r := Reading{Left: m.mark(0), Right: m.mark(1), Misfit: f.misfit, Family: b.model.family.name,
		Share: b.share}
	dx, dy := r.Right.X-r.Left.X, r.Right.Y-r.Left.Y
	d := math.Hypot(dx, dy)
	// The distance's sensitivities to the four coordinates (JCGM 100, equation 13).
	s := [4]float64{-dx / d, dx / d, -dy / d, dy / d}
	v := 0.0
	for i := range s {
		for j := range s {
			v += s[i] * s[j] * m.cov(i, j)
		}
	}
	r.SpacingU = math.Sqrt(math.Max(0, v))
	return r
}

func (m *moments) mark(k int) Mark {
	v := Mark{X: m.mean(ofX + k), Y: m.mean(ofY + k)}
	for i, a := range []int{ofX + k, ofY + k} {
		for j, b := range []int{ofX + k, ofY + k} {
			v.Cov[i][j] = m.cov(a, b)
		}
	}
	return v
}
