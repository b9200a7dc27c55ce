package relief

import (
	"math"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"
)

// windowOf draws a window whose ln of light is f.
func windowOf(f func(Point) float64) Window {
	w := Window{Light: make([]float64, Cells)}
	for i := range w.Light {
		w.Light[i] = math.Exp(f(At(i)))
	}
	return w
}

// A cubic convolution reproduces quadratics exactly, and 1:2:1 smoothing adds half the second derivative
// times the variance of its weights, half a cell squared a coordinate.
func TestReadingBetweenCells(t *testing.T) {
	f := func(p Point) float64 { return -1 + 0.004*p.X - 0.002*p.Y + 1e-5*p.X*p.X + 2e-5*p.X*p.Y - 3e-5*p.Y*p.Y }
	raised := Step * Step / 4 * (2e-5 - 6e-5)
	l, err := newLook(windowOf(f))
	require.NoError(t, err)
	rapid.Check(t, func(r *rapid.T) {
		p := Point{rapid.Float64Range(-95, 95).Draw(r, "x"), rapid.Float64Range(-55, 55).Draw(r, "y")}
		v, gx, gy := l.at(p)
		assert.InDelta(r, f(p)+raised, v, 1e-12)
		assert.InDelta(r, 0.004+2e-5*p.X+2e-5*p.Y, gx, 1e-12)
		assert.InDelta(r, -0.002+2e-5*p.X-6e-5*p.Y, gy, 1e-12)
		assert.True(r, l.shown(p))
	})
	v, _, _ := l.at(Point{500, 500})
	assert.False(t, math.IsNaN(v), "beyond the border its last cell stands")
	assert.False(t, l.shown(Point{500, 0}))
}

func TestHiddenCellsAreNotShown(t *testing.T) {
	w := windowOf(func(Point) float64 { return -1 })
	w.Light[30*Columns+50], w.Light[10] = math.NaN(), math.Inf(1)
	l, err := newLook(w)
	require.NoError(t, err)
	assert.False(t, l.shown(At(30*Columns+50)))
	assert.False(t, l.shown(Point{At(10).X - 1, At(10).Y + 1}))
	assert.True(t, l.shown(At(30*Columns+60)))
}

// Equation (1) there and back again: X = C + (X' - C)(H + d)/H.
func TestSeenAtInvertsEquationOne(t *testing.T) {
	rapid.Check(t, func(r *rapid.T) {
		v := View{rapid.Float64Range(-300, 300).Draw(r, "Cx"), rapid.Float64Range(-300, 300).Draw(r, "Cy"),
			rapid.Float64Range(150, 2000).Draw(r, "H")}
		seen := Point{rapid.Float64Range(-100, 100).Draw(r, "x"), rapid.Float64Range(-60, 60).Draw(r, "y")}
		d := rapid.Float64Range(0, 40).Draw(r, "d")
		p := v.below(seen, d)
		assert.InDelta(r, v.X+(seen.X-v.X)*(v.Height+d)/v.Height, p.X, 1e-9)
		back, by := v.seenAt(p, d)
		assert.InDelta(r, seen.X, back.X, 1e-9)
		assert.InDelta(r, seen.Y, back.Y, 1e-9)
		const h = 1e-4
		up, _ := v.seenAt(p, d+h)
		down, _ := v.seenAt(p, d-h)
		assert.InDelta(r, (up.X-down.X)/(2*h), by.X, derivativeTolerance)
		assert.InDelta(r, (up.Y-down.Y)/(2*h), by.Y, derivativeTolerance)
	})
	p, by := View{}.seenAt(Point{3, 4}, 10)
	assert.Equal(t, Point{3, 4}, p, "a scan is seen from straight above everywhere")
	assert.Equal(t, Point{}, by)
}
