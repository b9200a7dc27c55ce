package relief

import (
	"math"
	"testing"

	"github.com/stretchr/testify/assert"
	"pgregory.net/rapid"
)

// known is a fit with round numbers.
func known() Shading {
	s := Shading{Left: Bottom{At: Point{-60, 2}, Depth: 12}, Right: Bottom{At: Point{62, -1}, Depth: 14}}
	for i := range s.Cov {
		s.Cov[i][i] = []float64{0.5, 0.6, 0.7, 0.8, 2, 3}[i]
	}
	s.Cov[4][5], s.Cov[5][4] = 1.5, 1.5
	s.Cov[0][4], s.Cov[4][0] = -0.3, -0.3
	return s
}

func TestSpacingOfAFit(t *testing.T) {
	mm, u := known().Spacing()
	assert.InDelta(t, math.Hypot(122, 3), mm, 1e-12)
	ex, ey := 122/mm, -3/mm
	assert.InDelta(t, math.Sqrt(ex*ex*(0.5+0.7)+ey*ey*(0.6+0.8)), u, 1e-12)
}

// The law of propagation by differences: perturb the six numbers, carry them to the plane, and sum.
func TestSeenCarriesTheCovariance(t *testing.T) {
	rapid.Check(t, func(r *rapid.T) {
		s := known()
		v := View{rapid.Float64Range(-200, 200).Draw(r, "Cx"), rapid.Float64Range(-200, 200).Draw(r, "Cy"),
			rapid.Float64Range(200, 1000).Draw(r, "H")}
		o := s.Seen(v)
		at := func(j int, h float64) float64 {
			q := s
			*[]*float64{&q.Left.At.X, &q.Left.At.Y, &q.Right.At.X, &q.Right.At.Y, &q.Left.Depth,
				&q.Right.Depth}[j] += h
			return q.Seen(v).Distance
		}
		const h = 1e-4
		var by [6]float64
		for j := range by {
			by[j] = (at(j, h) - at(j, -h)) / (2 * h)
		}
		variance := 0.0
		for i := range by {
			for j := range by {
				variance += by[i] * s.Cov[i][j] * by[j]
			}
		}
		assert.InDelta(r, math.Sqrt(variance), o.U, 1e-6)
		assert.InDelta(r, v.X+(s.Left.At.X-v.X)*v.Height/(v.Height+12), o.Left.X, 1e-9, "equation (1)")
	})
	flat := known().Seen(View{})
	assert.Equal(t, Point{-60, 2}, flat.Left)
	assert.Equal(t, 0.5, flat.Cov[0][0])
}

func TestAgainstCountsInUncertainties(t *testing.T) {
	s := known()
	seen := s.Seen(View{})
	r := Reading{Left: Side{At: Point{-60, 2}}, Right: Side{At: Point{65, -1}}}
	d := s.Against(r, 0.9, View{})
	assert.Equal(t, r.Distance(), d.Net)
	assert.Equal(t, seen.Distance, d.Physics)
	assert.InDelta(t, math.Hypot(seen.U, 0.9), d.U, 1e-12)
	assert.InDelta(t, (r.Distance()-seen.Distance)/d.U, d.Ratio, 1e-12)
	r.Right.At.X = 59
	assert.Positive(t, s.Against(r, 0.9, View{}).Ratio, "shorter or longer, it is a size")
}

func TestReadingAsAStart(t *testing.T) {
	r := Reading{Left: Side{At: Point{-60, 2}, Depth: 12, VarDepth: 4},
		Right: Side{At: Point{62, -1}, Depth: -3, VarDepth: 1}}
	s := r.ShadingStart(0.5, 1.5)
	assert.Equal(t, [2]float64{12.5, 2.5}, s.Depth)
	assert.InDeltaSlice(t, []float64{2.5, math.Sqrt(1 + 2.25)}, s.UDepth[:], 1e-12)
	assert.NoError(t, s.check())
}
