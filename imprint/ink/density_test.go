package ink

import (
	"math"
	"math/rand/v2"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"
)

// The ink's density grows with pressure, starts at nothing and never exceeds the saturated one, whatever
// the paper.
func TestDensityGrowsAndSaturates(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		p := make([]float64, parameters)
		p[atSill] = rapid.Float64Range(-3, 0).Draw(t, "sill")
		p[atInk] = rapid.Float64Range(-2, 0).Draw(t, "ink")
		p[atGain] = rapid.Float64Range(-1.5, 2).Draw(t, "gain")
		p[atBend] = rapid.Float64Range(-0.6, 0.6).Draw(t, "bend")
		m := &model{family: families[0]}
		m.take(p)
		last := -1.0
		for q := -1.0; q <= 3; q += 0.05 {
			d := m.density(p, q)
			require.GreaterOrEqual(t, d.v, last)
			require.LessOrEqual(t, d.v, m.full*(1+1e-12))
			last = d.v
		}
		// where there is no pressure, the sill's rounding leaves a trace only: q is sillWidth^2 / 4 over the
		// distance to it
		far := sillWidth * sillWidth / 4
		assert.Less(t, m.density(p, m.sill-1).v, m.full*math.Tanh(math.Exp(p[atGain])*math.Pow(far*1.01,
			m.bend))+1e-12)
	})
}

// Unmarked paper is found under marks that cover most of it, and beside a gleam.
func TestBrightestIsThePaper(t *testing.T) {
	ln := make([]float64, 1000)
	for i := range ln {
		ln[i] = -1.5 + float64(i%7)/10
		if i%5 == 0 {
			ln[i] = -0.2
		}
		if i%200 == 0 {
			ln[i] = 0.6
		}
	}
	assert.InDelta(t, -0.2, brightest(ln), 0.01)
}

// Cells are means of light at their squares' middles, and one without light is dark.
func TestGather(t *testing.T) {
	light := make([]float64, 80*60)
	for i := range light {
		light[i] = 0.5
	}
	light[0] = math.NaN()
	c, err := gather(light, 80, 60, -40, -30, 1, 5)
	require.NoError(t, err)
	assert.Equal(t, 16, c.w)
	assert.Equal(t, 12, c.h)
	assert.Equal(t, 5.0, c.side)
	assert.InDelta(t, -38, c.x[0], 1e-9, "the middle of -40 .. -36")
	assert.InDelta(t, -28, c.y[0], 1e-9)
	assert.True(t, c.dark[0])
	assert.False(t, c.dark[1])
	assert.InDelta(t, 1, c.white[1], 1e-9)
	assert.InDelta(t, math.Log(0.5), c.paper, 1e-9)
}

// Each family's shares add up to one, and a bell is told from a ball: it has no long flanks.
func TestFamiliesShareTheBelief(t *testing.T) {
	s := usual()
	c, err := gather(s.light(), sceneW, sceneH, sceneX, sceneY, sceneStep, cellSide)
	require.NoError(t, err)
	f := fitter{cells: c, weight: make([]float64, len(c.white))}
	require.NoError(t, f.settle(s.rough()))
	f.compete(false)
	require.Equal(t, len(families)+2, len(f.found), "a body's front may be up or down")
	sum := 0.0
	for _, one := range f.found {
		sum += one.share
		if one.model.family.hertz {
			assert.Less(t, one.share, 0.1, "hills have no ball's long flanks")
		}
	}
	assert.InDelta(t, 1, sum, 1e-9)
}

// Evidence counts by its square root: of two families one e^2 times as likely has e times the other's
// share.
func TestEvidenceCountsByItsRoot(t *testing.T) {
	f := fitter{found: []candidate{{evidence: -30}, {evidence: -28}}}
	f.shareOut()
	assert.InDelta(t, math.E, f.found[1].share/f.found[0].share, 1e-9)
}

// In a scan dents are drawn 1.3 times as wide as their fits say, nearly so in the summits' places too; a
// body, whose errors its fit does tell, is not.
func TestDentsAreDrawnWiderInAScan(t *testing.T) {
	s := usual()
	c, err := gather(s.light(), sceneW, sceneH, sceneX, sceneY, sceneStep, cellSide)
	require.NoError(t, err)
	f := fitter{cells: c, weight: make([]float64, len(c.white)), loose: 1}
	require.NoError(t, f.settle(s.rough()))
	f.compete(false)
	for _, one := range f.found {
		var spread [2]float64
		for k, loose := range []float64{1, f.loose} {
			var m moments
			one.draw(rand.New(rand.NewPCG(1, 2)), 400, loose, func(q quantities) { m.add(q, 1) })
			spread[k] = math.Sqrt(m.cov(ofX, ofX) + m.cov(ofX+1, ofX+1))
		}
		want := 1.3
		if one.model.family.body {
			want = 1
		}
		assert.InDelta(t, want, spread[1]/spread[0], 0.1, one.model.family.name)
	}
}
