package tone

import (
	"image"
	"math"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// A single bright block becomes a bell of the same sum, with the variance r (r + 1) along both axes.
func TestBlurred(t *testing.T) {
	for _, r := range []int{1, 2, 5, 9} {
		p := plane{w: 81, h: 75, k: 1, v: make([]float32, 81*75)}
		p.v[37*p.w+40] = 1
		var sum, xx, yy float64
		for i, v := range p.blurred(r).v {
			x, y := float64(i%p.w-40), float64(i/p.w-37)
			sum, xx, yy = sum+float64(v), xx+float64(v)*x*x, yy+float64(v)*y*y
		}
		assert.InDelta(t, 1, sum, 1e-5)
		assert.InEpsilon(t, r*(r+1), xx, 1e-3)
		assert.InEpsilon(t, r*(r+1), yy, 1e-3)
		assert.Equal(t, float32(1), p.v[37*p.w+40], "the plane itself stays")
	}
}

// What is even stays even up to the border, and a plane narrower than the mean is mirrored again and again.
func TestBlurredAtTheBorder(t *testing.T) {
	for _, size := range [][2]int{{1, 1}, {2, 5}, {30, 4}} {
		p := plane{w: size[0], h: size[1], k: 1, v: make([]float32, size[0]*size[1])}
		for i := range p.v {
			p.v[i] = 0.4
		}
		for _, v := range p.blurred(7).v {
			assert.InDelta(t, 0.4, v, 1e-5, "%v", size)
		}
	}
	var seen []int
	for i := -4; i <= 6; i++ {
		seen = append(seen, mirrored(i, 3))
	}
	assert.Equal(t, []int{0, 1, 2, 1, 0, 1, 2, 1, 0, 1, 2}, seen)
}

// Between blocks a slope is read exactly, in blocks of any size, and the pixels' centres are whole numbers.
func TestPlaneReadsASlope(t *testing.T) {
	g := image.NewGray(image.Rect(0, 0, 123, 97))
	for i := range g.Pix {
		g.Pix[i] = uint8(i%123 + i/123)
	}
	for _, pxPerMM := range []float64{1, 4, 9} {
		fine, ok := reduced(g, pxPerMM)
		require.True(t, ok)
		for _, p := range []plane{fine, fine.coarser()} {
			for _, q := range []Pixel{{40, 40}, {61.3, 44.9}, {80.5, 60}} {
				assert.InDelta(t, (q.X+q.Y)/255, p.at(q), 1e-6)
			}
		}
	}
	_, ok := reduced(g, 1000)
	assert.False(t, ok)
	fine, _ := reduced(g, 4)
	assert.True(t, fine.holds(Pixel{0, 0}))
	assert.False(t, fine.holds(Pixel{-0.1, 5}))
	assert.False(t, fine.holds(Pixel{5, 97}))
	assert.InDelta(t, 0, math.Abs(fine.at(Pixel{-50, -50})-float64(fine.v[0])), 1e-9, "beyond is the border's")
}
