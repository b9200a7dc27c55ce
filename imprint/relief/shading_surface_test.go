package relief

import (
	"math"
	"math/rand/v2"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// anyShape draws parameters from the beliefs, with dents 90 to 150 mm apart.
func anyShape(rng *rand.Rand, spread float64) []float64 {
	t := make([]float64, shapes)
	for j, b := range beliefs {
		t[j] = b.mean + spread*b.sd*rng.NormFloat64()
	}
	half := 45 + 30*rng.Float64()
	t[leftX], t[rightX] = -half, half
	t[leftY], t[rightY] = 4*rng.NormFloat64(), 4*rng.NormFloat64()
	t[basinDepth] = math.Max(0, t[basinDepth])
	t[lnDepth] = math.Log(8 + 9*rng.Float64())
	return t
}

// anyBumps lays bumps on a shape.
func anyBumps(rng *rand.Rand, t []float64) ([]float64, *bumps) {
	b := layBumps([2]Point{{t[leftX], t[leftY]}, {t[rightX], t[rightY]}})
	for range b.count() {
		t = append(t, 0.5*rng.NormFloat64())
	}
	return t, b
}

// derivativeTolerance is for central differences with steps h: their rounding is some 1e-16/h of the value,
// their truncation some h^2 of the third derivative; both are below 1e-6 of the scale of depths (mm) at h =
// 1e-4.
const derivativeTolerance = 1e-6

func TestSurfaceDerivativesAgainstDifferences(t *testing.T) {
	rng := rand.New(rand.NewPCG(1, 2))
	const h = 1e-4
	for range 30 {
		p, b := anyBumps(rng, anyShape(rng, 1))
		s := newSurface(p, b)
		x, y := p[leftX]+30*rng.NormFloat64(), 20*rng.NormFloat64()
		got := make([]slope, len(p))
		at := s.derivatives(got, x, y)
		assert.InDelta(t, s.at(x, y).d, at.d, 1e-12, "both ways to the same surface")

		east, west, south, north := s.at(x+h, y), s.at(x-h, y), s.at(x, y+h), s.at(x, y-h)
		assert.InDelta(t, (east.d-west.d)/(2*h), at.x, derivativeTolerance)
		assert.InDelta(t, (south.d-north.d)/(2*h), at.y, derivativeTolerance)
		assert.InDelta(t, (east.x-west.x)/(2*h), at.xx, derivativeTolerance)
		assert.InDelta(t, (east.y-west.y)/(2*h), at.xy, derivativeTolerance)
		assert.InDelta(t, (south.x-north.x)/(2*h), at.xy, derivativeTolerance)
		assert.InDelta(t, (south.y-north.y)/(2*h), at.yy, derivativeTolerance)

		for j := range p {
			moved := func(by float64) hump {
				q := append([]float64(nil), p...)
				q[j] += by
				s := newSurface(q, b)
				return s.at(x, y)
			}
			u, d := moved(h), moved(-h)
			require.InDelta(t, (u.d-d.d)/(2*h), got[j].d, derivativeTolerance*math.Max(1, math.Abs(got[j].d)),
				"depth by parameter %d", j)
			require.InDelta(t, (u.x-d.x)/(2*h), got[j].x, derivativeTolerance, "slope in x by parameter %d", j)
			require.InDelta(t, (u.y-d.y)/(2*h), got[j].y, derivativeTolerance, "slope in y by parameter %d", j)
		}
	}
}

func TestBottomIsTheDeepestPointOfTheSum(t *testing.T) {
	rng := rand.New(rand.NewPCG(3, 4))
	for range 50 {
		p := anyShape(rng, 1)
		s := newSurface(p, nil)
		for k := range 2 {
			from := Point{p[2*k], p[2*k+1]}
			at, h, found := s.bottom(from)
			require.True(t, found)
			assert.InDelta(t, 0, math.Hypot(h.x, h.y), 1e-6)
			for a := range 16 { // all round it is shallower
				sin, cos := math.Sincos(float64(a) * math.Pi / 8)
				assert.Less(t, s.at(at.X+cos, at.Y+sin).d, h.d)
			}
			assert.GreaterOrEqual(t, h.d, s.at(from.X, from.Y).d,
				"the basin only makes it deeper than the dent's own middle")
		}
	}
}

// A basin whose middle lies outward moves the deepest point outward from the dent's own middle (design's
// measurement page).
func TestBasinMovesTheBottomOutward(t *testing.T) {
	p := make([]float64, shapes)
	for j, b := range beliefs {
		p[j] = b.mean
	}
	p[leftX], p[rightX], p[basinOut] = -60, 60, 12
	s := newSurface(p, nil)
	l, _, _ := s.bottom(Point{-60, 0})
	r, _, _ := s.bottom(Point{60, 0})
	assert.Less(t, l.X, -60.1)
	assert.Greater(t, r.X, 60.1)
	assert.InDelta(t, -l.X, r.X, 1e-6, "a mirror image")
	assert.InDelta(t, l.Y, r.Y, 1e-6)
}

func TestBottomSaysWhenThereIsNone(t *testing.T) {
	p := anyShape(rand.New(rand.NewPCG(5, 6)), 0)
	s := newSurface(p, nil)
	_, _, found := s.bottom(Point{300, 300})
	assert.False(t, found)
}
