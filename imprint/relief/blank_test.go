package relief

import (
	"math"
	"math/rand/v2"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// windowOf draws a window whose ln of light is f.
func windowOf(f func(Point) float64) Window {
	w := Window{Light: make([]float64, Cells)}
	for i := range w.Light {
		w.Light[i] = math.Exp(f(At(i)))
	}
	return w
}

// Taking the very same paint off leaves an even window, whatever lamp was over each.
func TestTakeOffLeavesWhatIsNew(t *testing.T) {
	paint := func(p Point) float64 { return -0.5 * math.Exp(-(p.X*p.X+p.Y*p.Y)/200) }
	w := windowOf(func(p Point) float64 { return -1 + paint(p) + 0.1*math.Exp(-math.Pow(p.X-50, 2)/400) })
	TakeOff(&w, windowOf(func(p Point) float64 { return -2 + paint(p) }))
	l, _ := logLight(w.Light)
	even := 0.1 * math.Exp(-math.Pow(At(60).X-50, 2)/400)
	for i := range l {
		require.InDelta(t, l[60]-even, l[i]-0.1*math.Exp(-math.Pow(At(i).X-50, 2)/400), 1e-9)
	}
}

// shaded is an imprint of two bells by equation (2) (docs/measurement-model.md) in a side light of its own,
// over paint, with grain: ln of light over slopes and occlusion.
func shaded(rng *rand.Rand, paint func(Point) float64) Window {
	side := func() float64 { return 0.4 * rng.NormFloat64() }
	p, q, loss, dark := side(), side(), -0.2-0.2*rng.Float64(), 0.003*rng.NormFloat64()
	half, wide, deep := 60+9*rng.NormFloat64(), 12+5*rng.Float64(), 8+6*rng.Float64()
	return windowOf(func(at Point) float64 {
		var zx, zy, z float64
		for _, middle := range []float64{-half, half} {
			dx := at.X - middle
			d := deep * math.Exp(-(dx*dx+at.Y*at.Y)/(2*wide*wide))
			z, zx, zy = z-d, zx+d*dx/(wide*wide), zy+d*at.Y/(wide*wide)
		}
		light := p*zx + q*zy + loss*(zx*zx+zy*zy) + dark*z
		return -1.2 + light + paint(at) + 0.008*rng.NormFloat64()
	})
}

// An imprint drawn by equation (2) over paint, and blanks with the same paint, the same moved, other paint,
// and none.
func TestAStrangerIsTold(t *testing.T) {
	rng := rand.New(rand.NewPCG(31, 32))
	var foreign, moved int
	const n = 20
	for range n {
		spots := func() func(Point) float64 {
			at := make([]Point, 6)
			for k := range at {
				at[k] = Point{180 * (rng.Float64() - 0.5), 100 * (rng.Float64() - 0.5)}
			}
			return func(p Point) (l float64) {
				for _, c := range at {
					l -= 0.4 * math.Exp(-math.Pow(math.Hypot(p.X-c.X, p.Y-c.Y), 2)/(2*36))
				}
				return l
			}
		}
		own, other := spots(), spots()
		w := shaded(rng, own)
		at := func(f func(Point) float64, dx, dy float64) Window {
			return windowOf(func(p Point) float64 {
				return -1.3 + 0.001*p.X + f(Point{p.X + dx, p.Y + dy}) + 0.004*rng.NormFloat64()
			})
		}
		assert.False(t, Stranger(w, at(own, 0, 0)), "the pad itself")
		assert.False(t, Stranger(w, at(own, 1, 1)), "the pad itself, the frame laid back to the millimetre")
		assert.False(t, Stranger(w, at(func(Point) float64 { return 0 }, 0, 0)), "an even pad")
		if Stranger(w, at(other, 0, 0)) {
			foreign++
		}
		if Stranger(w, at(own, 25, 10)) {
			moved++
		}
	}
	t.Logf("of %d foreign blanks %d were told, of as many moved frames %d", n, foreign, moved)
	assert.GreaterOrEqual(t, foreign, n*9/10)
	assert.GreaterOrEqual(t, moved, n*9/10)
}
