package surface

import (
	"math"
	"math/rand/v2"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"gonum.org/v1/gonum/mat"
	"gonum.org/v1/gonum/stat"
)

// scattered samples a relief at irregular places some 9 mm apart.
func scattered(random *rand.Rand, noise float64, z func(x, y float64) float64) (list []Height) {
	for y := -66.0; y <= 66; y += 9 {
		for x := -102.0; x <= 102; x += 9 {
			px, py := x+1.6*random.NormFloat64(), y+1.6*random.NormFloat64()
			list = append(list, Height{X: px, Y: py, Z: z(px, py) + noise*random.NormFloat64(), U: noise, UX: noise,
				UY: noise})
		}
	}
	return list
}

// drawn are n draws as the heights alone leave the bottoms open.
func drawn(s *Surface, left, right Bottom, n int) (Draws, error) {
	l, err := s.Leeway(left, right, nil)
	if err != nil {
		return Draws{}, err
	}
	return l.Draw(n, true, false, 1), nil
}

var all = Bounds{HalfWidth: 104, HalfHeight: 66}

// cup is two dents of sphere-like bottoms of a radius of curvature, mm.
func cup(radius, depth, apart float64) func(x, y float64) float64 {
	sigma := math.Sqrt(radius * depth) // of depth exp(-r^2/2 sigma^2): curvature depth / sigma^2
	return func(x, y float64) float64 {
		l, r := math.Hypot(x+apart/2, y), math.Hypot(x-apart/2, y)
		return depth * (math.Exp(-l*l/(2*sigma*sigma)) + math.Exp(-r*r/(2*sigma*sigma)))
	}
}

func TestTheFlatterTheBottomTheLargerItsU(t *testing.T) {
	random := rand.New(rand.NewPCG(1, 1))
	before := 0.0
	for _, radius := range []float64{15, 40, 100} {
		s, err := Fit(scattered(random, 0.05, cup(radius, 8, 120)), nil)
		require.NoError(t, err)
		l, r, err := s.Deepest(all)
		require.NoError(t, err)
		d, err := drawn(s, l, r, 300)
		require.NoError(t, err)
		u := sd(d.Left)
		assert.Greater(t, u, before, "at a radius of %g mm", radius)
		before = u
	}
}

func sd(list [][2]float64) float64 {
	m, s := 0.0, 0.0
	for _, p := range list {
		m += p[0] / float64(len(list))
	}
	for _, p := range list {
		s += (p[0] - m) * (p[0] - m) / float64(len(list))
	}
	return math.Sqrt(s)
}

func TestAFlatHasNoDeepestPoint(t *testing.T) {
	random := rand.New(rand.NewPCG(2, 2))
	flat := func(x, y float64) float64 { // bottomed out over 14 mm about either middle
		d := math.Min(math.Hypot(x+60, y), math.Hypot(x-60, y))
		return 10 * math.Exp(-math.Pow(math.Max(0, d-14)/12, 2)/2)
	}
	s, err := Fit(scattered(random, 0.05, flat), nil)
	require.NoError(t, err)
	l, r, err := s.Deepest(all)
	require.NoError(t, err)
	d, err := drawn(s, l, r, 300)
	require.NoError(t, err)
	assert.Greater(t, 2*sd(d.Left), 3.0, "the interval of a flat of 14 mm radius")
}

func TestAWrongHeightIsCut(t *testing.T) {
	random := rand.New(rand.NewPCG(3, 3))
	list := scattered(random, 0.03, cup(30, 8, 120))
	list[40].Z += 1.5
	s, err := Fit(list, nil)
	require.NoError(t, err)
	assert.Contains(t, s.Cut, 40)
	assert.Less(t, len(s.Cut), 5)
	assert.NotContains(t, s.Kept(), 40)
}

func TestTheSurfaceKnowsWhereItIsUnsure(t *testing.T) {
	random := rand.New(rand.NewPCG(4, 4))
	var list []Height
	for _, h := range scattered(random, 0.03, cup(30, 8, 120)) {
		if math.Hypot(h.X-60, h.Y) > 25 { // a hole
			list = append(list, h)
		}
	}
	s, err := Fit(list, nil)
	require.NoError(t, err)
	assert.Greater(t, s.UAt(60, 0), 10*s.UAt(-60, 0))
}

func TestTooFewHeightsAreRefused(t *testing.T) {
	_, err := Fit(make([]Height, 12), nil)
	require.ErrorIs(t, err, ErrTooFew)
	bad := scattered(rand.New(rand.NewPCG(5, 5)), 0.03, cup(30, 8, 120))
	bad[3].U = 0
	_, err = Fit(bad, nil)
	require.ErrorContains(t, err, "positive uncertainty")
}

// over is the curvature, 1/mm, of the paraboloid that fits a surface over a circle about a place, by
// integrals of the depths' covariance with r^2 over that circle.
func over(z func(x, y float64) float64, x, y float64) float64 {
	var n, s, d, ss, sd float64
	for j := -BallReach; j <= BallReach; j += 0.25 {
		for i := -BallReach; i <= BallReach; i += 0.25 {
			if r2 := i*i + j*j; r2 <= BallReach*BallReach {
				at := z(x+i, y+j)
				n, s, d, ss, sd = n+1, s+r2, d+at, ss+r2*r2, sd+r2*at
			}
		}
	}
	return -2 * (sd/n - s*d/n/n) / (ss/n - s*s/n/n)
}

// The draws' curvature is that of the surface that was sampled, within what its points leave open.
func TestDrawsHaveTheSurfacesCurvature(t *testing.T) {
	for _, radius := range []float64{20, 40} {
		real := cup(radius, 12, 120)
		s, err := Fit(scattered(rand.New(rand.NewPCG(3, 3)), 0.03, real), nil)
		require.NoError(t, err)
		l, r, err := s.Deepest(all)
		require.NoError(t, err)
		d, err := drawn(s, l, r, 300)
		require.NoError(t, err)
		for side, b := range []Bottom{l, r} {
			mean, u := stat.MeanStdDev(d.Curvature[side], nil)
			assert.InDelta(t, over(real, b.X, b.Y), mean, 3*u, "of radius %g", radius)
			assert.Less(t, u, 0.2*mean)
			assert.Greater(t, u, 0.001*mean, "nine millimetres between points leave something open")
		}
	}
}

// Draws in mirrored pairs: what is linear in them cancels, so chance moves their average by far less than
// the u over the root of n of draws that know nothing of each other.
func TestChanceHardlyMovesTheDrawsAverage(t *testing.T) {
	s, err := Fit(scattered(rand.New(rand.NewPCG(8, 8)), 0.02, cup(20, 8, 120)), nil)
	require.NoError(t, err)
	l, r, err := s.Deepest(all)
	require.NoError(t, err)
	open, err := s.Leeway(l, r, nil)
	require.NoError(t, err)
	const n = 400
	var average, u []float64
	for seed := range uint64(6) {
		var x []float64
		for _, p := range open.Draw(n, true, false, seed).Left {
			x = append(x, p[0])
		}
		m, sd := stat.MeanStdDev(x, nil)
		average, u = append(average, m), append(u, sd)
	}
	assert.Less(t, stat.StdDev(average, nil), 0.2*stat.Mean(u, nil)/math.Sqrt(n))
	assert.Greater(t, stat.Mean(u, nil), 0.01, "mm: the heights leave something open")
}

func TestAPlainHasNoBottoms(t *testing.T) {
	random := rand.New(rand.NewPCG(6, 6))
	s, err := Fit(scattered(random, 0.01, func(x, y float64) float64 { return 2 + 0.01*x }), nil)
	require.NoError(t, err)
	l, r, err := s.Deepest(all)
	if err != nil {
		require.ErrorIs(t, err, ErrNoTwo)
		return
	}
	// Where noise makes two peaks they must not be taken for two bottoms.
	d, err := drawn(s, l, r, 200)
	require.NoError(t, err)
	assert.Greater(t, 2*sd(d.Left), 6.0)
}

func TestDeepestIsWithinItsU(t *testing.T) {
	random := rand.New(rand.NewPCG(7, 7))
	chi, n := 0.0, 0.0
	for range 8 {
		radius := 20 + 60*random.Float64()
		apart := 120.0
		s, err := Fit(scattered(random, 0.04, cup(radius, 8, apart)), nil)
		require.NoError(t, err)
		l, r, err := s.Deepest(all)
		require.NoError(t, err)
		d, err := drawn(s, l, r, 300)
		require.NoError(t, err)
		z := cup(radius, 8, apart)
		// The two dents overlap, so the deepest points lie a little inside: found on the true relief.
		want := func(x0 float64) float64 {
			best := x0
			for x := x0 - 20; x < x0+20; x += 0.01 {
				if z(x, 0) > z(best, 0) {
					best = x
				}
			}
			return best
		}
		for _, e := range []float64{(l.X - want(-60)) / sd(d.Left), (r.X - want(60)) / sd(d.Right)} {
			chi, n = chi+e*e, n+1
		}
	}
	t.Logf("normalised mean square %.2f of %.0f", chi/n, n)
	assert.Less(t, chi/n, 2.0, "chi-square, 16 degrees of freedom, 99 %%")
}

func TestTheGridsUIsTheSurfaces(t *testing.T) {
	s, err := Fit(scattered(rand.New(rand.NewPCG(8, 8)), 0.03, cup(30, 8, 120)), nil)
	require.NoError(t, err)
	g, err := s.WithU(all, 2, nil)
	require.NoError(t, err)
	assert.Len(t, g.U, 105*67)
	for _, k := range []int{0, 3521, 2000, len(g.U) - 1} {
		x, y := g.X(k%g.Columns), g.Y(k/g.Columns)
		assert.InDelta(t, s.At(x, y), g.Z[k], 1e-9)
	}
	// On the nodes of its own grid the interpolated u is the surface's; (0, 0) is one.
	middle := g.Rows/2*g.Columns + g.Columns/2
	assert.InDelta(t, s.UAt(0, 0), g.U[middle], 1e-6)
}

// What the search for the deepest points left, a grid over other bounds takes cell by cell.
func TestGridsShareTheCellsOfTheSearch(t *testing.T) {
	s, err := Fit(scattered(rand.New(rand.NewPCG(8, 8)), 0.03, cup(30, 8, 120)), nil)
	require.NoError(t, err)
	_, _, err = s.Deepest(all)
	require.NoError(t, err)
	for _, b := range []Bounds{all, {HalfWidth: 106, HalfHeight: 68}, {HalfWidth: 50, HalfHeight: 70}} {
		for _, step := range []float64{coarse, 3} {
			g := s.Sampled(b, step)
			for k, z := range g.Z {
				require.Equal(t, s.At(g.X(k%g.Columns), g.Y(k/g.Columns)), z, "%v by %g, cell %d", b, step, k)
			}
		}
	}
	known := *s.searched
	for k := range known.Z {
		known.Z[k] = -1
	}
	s.searched = &known
	g := s.Sampled(Bounds{HalfWidth: 106, HalfHeight: 68}, coarse)
	assert.Equal(t, -1.0, g.Z[g.Columns+1], "the first of the search's, one cell in")
	assert.Equal(t, s.At(g.X(0), g.Y(0)), g.Z[0], "beyond them")

	require.NoError(t, s.solve())
	assert.NotContains(t, s.Sampled(all, coarse).Z, -1.0, "another surface's cells are not this one's")
}

func TestPrecisionsAreTheInversesDiagonal(t *testing.T) {
	s, err := Fit(dotsAndPatches(), nil)
	require.NoError(t, err)
	var inverse mat.SymDense
	require.NoError(t, s.chol.InverseTo(&inverse))
	got, ok := s.precisions()
	require.True(t, ok)
	for i, p := range got {
		require.InEpsilon(t, inverse.At(i, i), p, 1e-9)
	}
}

func TestHeightsAtRandomAreUnrelated(t *testing.T) {
	random := rand.New(rand.NewPCG(9, 9))
	for _, radius := range []float64{15, 80} {
		s, err := Fit(scattered(random, 0.03, cup(radius, 8, 120)), nil)
		require.NoError(t, err)
		assert.False(t, s.Unrelated(), "a relief")
	}
	list := scattered(random, 0.03, func(x, y float64) float64 { return 30 * random.Float64() })
	s, err := Fit(list, nil)
	require.NoError(t, err)
	assert.True(t, s.Unrelated(), "length %.1f mm", s.Length)
}

func TestALowAtTheRimIsNoBottom(t *testing.T) {
	s, err := Fit(scattered(rand.New(rand.NewPCG(10, 10)), 0.03, cup(30, 8, 154)), nil)
	require.NoError(t, err)
	_, _, err = s.Deepest(all)
	require.NoError(t, err)
	_, _, err = s.Deepest(Bounds{HalfWidth: 80, HalfHeight: 66})
	require.ErrorIs(t, err, ErrNoTwo, "3 mm from the rim")
}
