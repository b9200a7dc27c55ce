package relief

import (
	"math"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// Two dents alike, drawn as bells of 10 mm: a lamp low at the right leaves their right walls half as bright
// as the pad.
var drawnLeft, drawnRight = Point{-60, 2}, Point{70, -4}

func bellWall(p, dent Point) float64 {
	x, y := p.X-dent.X, p.Y-dent.Y
	return -0.07 * x * math.Exp(0.5-(x*x+y*y)/200)
}

// shadowed is a window with the two dents on a pad so bright, under even white; over darkens places to its ln
// of light (1: not).
func shadowed(t *testing.T, pad float64, over func(Point) float64) Window {
	t.Helper()
	w := windowOf(func(p Point) float64 {
		return math.Log(pad) + math.Min(bellWall(p, drawnLeft)+bellWall(p, drawnRight), over(p))
	})
	white := make([]float64, len(Patches))
	for i := range white {
		white[i] = 0.8
	}
	f, lit := FitFrameLight(white)
	require.True(t, lit)
	w.Frame = f
	return w
}

// where is dark to ln -depth in all places that hold.
func where(depth float64, in func(Point) bool) func(Point) float64 {
	return func(p Point) float64 {
		if in(p) {
			return -depth
		}
		return 1
	}
}

// rim is the outermost cells all round, so many deep.
func rim(cells float64) func(Point) bool {
	in := cells*Step - Step/2
	return func(p Point) bool {
		return math.Abs(p.X) > -Left-in || math.Abs(p.Y) > -Front-in
	}
}

func TestShadowGap(t *testing.T) {
	const far = 0.0 // 20 mm and more: what lies at the other dent, or nothing
	band := func(p Point, row float64) bool { return math.Abs(p.Y-row) < 20 }
	for _, c := range []struct {
		name        string
		over        func(Point) float64
		left, right float64 // mm from the drawn centre to the middle of the nearest cell that is dark, by hand
	}{
		{"no shadow: walls are no shadow", where(0, func(Point) bool { return false }), far, far},
		{"from the right, 1 mm beside the centre", where(1.4, func(p Point) bool {
			return p.X > 70.5 &&
				band(p, -4)
		}), far, math.Hypot(1, 1)},
		{"7 mm beside it", where(1.4, func(p Point) bool { return p.X > 76.5 && band(p, -4) }), far,
			math.Hypot(7, 1)},
		{"25 mm beside it", where(1.4, func(p Point) bool { return p.X > 94.5 && band(p, -4) }), far,
			math.Hypot(25, 1)},
		{"from the left, 5 mm beside the centre", where(1.4, func(p Point) bool {
			return p.X < -64.5 &&
				band(p, 2)
		}), math.Hypot(5, 1), far},
		{"from the back over the left dent", where(1.4, func(p Point) bool { return p.Y > 12.5 && p.X < -40 }),
			math.Hypot(1, 11), far},
		{"a veil that leaves more than exp(-0.5) of the light",
			where(0.48, func(p Point) bool { return p.X > 70.5 && band(p, -4) }), far, far},
		{"a blot in the dent, off the rim", where(1.4, func(p Point) bool {
			return p.X > 70.5 && p.X < 90 &&
				band(p, -4)
		}), far, far},
		{"a black rim of one cell", where(3, rim(1)), far, far},
		{"a black rim of two cells", where(3, rim(2)), far, far},
		{"half a shadow that runs into a wall as dark", where(0.65,
			func(p Point) bool { return p.X > 86.5 && band(p, -4) }), far, far},
	} {
		for _, pad := range []float64{0.4, 0.02} {
			l, r := shadowed(t, pad, c.over).ShadowGap(drawnLeft, drawnRight)
			for side, got := range [2]float64{l, r} {
				if want := [2]float64{c.left, c.right}[side]; want == far {
					assert.Greater(t, got, 20.0, "%s, pad %v, side %d", c.name, pad, side)
				} else {
					assert.InDelta(t, want, got, 1e-9, "%s, pad %v, side %d", c.name, pad, side)
				}
			}
		}
	}
}

// A dent so near the card's edge that the dark under the card lies within 10 mm of its centre is not in its
// shadow for that.
func TestTheDarkUnderTheCardIsNoShadow(t *testing.T) {
	l, r := shadowed(t, 0.4, where(3, rim(2))).ShadowGap(Point{-60, 0}, Point{93, 0})
	assert.Equal(t, [2]float64{math.Inf(1), math.Inf(1)}, [2]float64{l, r})
}

// Without the frame's white nothing is said, nor of what is no window; cells outside the picture are no
// shadow.
func TestNoShadowWithoutTheFramesWhite(t *testing.T) {
	over := where(1.4, func(p Point) bool { return p.X > 70.5 && math.Abs(p.Y) < 30 })
	w := shadowed(t, 0.4, over)
	_, r := w.ShadowGap(drawnLeft, drawnRight)
	require.Less(t, r, 2.0)
	hidden := w
	hidden.Light = make([]float64, Cells)
	for i, v := range w.Light {
		if hidden.Light[i] = v; over(At(i)) < 0 {
			hidden.Light[i] = math.NaN()
		}
	}
	w.Frame = FrameLight{}
	for _, none := range []Window{w, hidden, {}} {
		l, r := none.ShadowGap(drawnLeft, drawnRight)
		assert.Equal(t, [2]float64{math.Inf(1), math.Inf(1)}, [2]float64{l, r})
	}
}
