package proof

import (
	"math"
	"testing"

	"github.com/stretchr/testify/assert"
)

// dents have these radii of curvature, mm, each known to 1 %.
func dents(left, right float64) Pair {
	return Pair{Curvature: [2]float64{1 / left, 1 / right}, CurvatureU: [2]float64{0.01 / left, 0.01 / right},
		ReachMM: 12}
}

func TestUnequalBallsAreNoPair(t *testing.T) {
	assert.True(t, Pair{}.Alike(), "of a single photo little is known")
	assert.True(t, Pair{ContrastMM: -2, ContrastU: 0.5}.Alike())
	assert.True(t, Pair{ContrastMM: 6, ContrastU: 2}.Alike(), "not told apart within its uncertainty")
	assert.False(t, Pair{ContrastMM: -6, ContrastU: 0.5}.Alike())
	assert.True(t, dents(20, 23).Alike(), "what two equal balls may show")
	assert.False(t, dents(20, 25).Alike())
	assert.False(t, dents(25, 20).Alike())
	vague := dents(20, 25)
	vague.CurvatureU[1] = 0.2 / 25
	assert.True(t, vague.Alike(), "a surface that leaves a fifth open cannot tell")
}

// bottom is the curvature of the paraboloid that fits a sphere's bottom over 12 mm, by an integral over the
// circle: of the depths' covariance with s = r^2 over its variance, both even in s.
func bottom(radius float64) float64 {
	const most, n = 144.0, 100000
	var s, z, ss, sz float64
	for k := range n {
		square := most * (float64(k) + 0.5) / n
		depth := math.Sqrt(radius*radius - square)
		s, z, ss, sz = s+square/n, z+depth/n, ss+square*square/n, sz+square*depth/n
	}
	return -2 * (sz - s*z) / (ss - s*s)
}

func TestBallsAreToldByTheirDents(t *testing.T) {
	for _, ball := range []float64{30, 40, 62, 100} {
		p := Pair{Curvature: [2]float64{bottom(ball / 2), bottom(ball / 2)}, ReachMM: 12}
		assert.InEpsilon(t, ball, p.BallMM(), 0.01, ball)
		assert.False(t, p.Unlike(ball))
		assert.False(t, p.Unlike(1.25*ball), "within what rendered pairs show")
		assert.True(t, p.Unlike(1.5*ball))
		assert.True(t, p.Unlike(ball/1.5))
		assert.False(t, p.Unlike(0), "nobody said")
	}
	assert.Zero(t, Pair{}.BallMM())
	assert.Zero(t, Pair{Curvature: [2]float64{0.2, 0.2}, ReachMM: 12}.BallMM(), "sharper than any ball told")
	assert.Zero(t, Pair{Curvature: [2]float64{0.001, 0.001}, ReachMM: 12}.BallMM(), "flat")
	assert.Zero(t, Pair{Curvature: [2]float64{0.05, 0.05}, ReachMM: 14}.BallMM(), "wider than the least ball")
}
