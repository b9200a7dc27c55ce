package ink

import (
	"math"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// usualBody are a body's parameters as expected, its bones 120 mm apart.
func usualBody() []float64 {
	p := bodyStart(make([]float64, parameters))
	p[atX], p[perSide+atX] = -60, 60
	return p
}

// In series tissue and foam carry one stress and share the overlap: with the strains that the stress asks of
// either by E e / (1 - e / limit), the two give way by all of it.
func TestStressOfASeries(t *testing.T) {
	b := newBody(usualBody(), 1)
	for _, one := range []struct{ overlap, tissue float64 }{{0.5, 15}, {8, 15}, {20, 30}, {25, 12}} {
		s := b.stress(one.overlap, one.tissue)
		foam := s / (b.firm + s/foamLimit) * b.foam
		tissue := s / (1 + s/tissueLimit) * one.tissue
		assert.InDelta(t, one.overlap, foam+tissue, 1e-9, "overlap %v", one.overlap)
	}
	assert.Zero(t, b.stress(0, 15))
}

// A body presses nowhere that it does not touch, alike on both sides, and in front of its bones rather than
// behind them, since they rise to the front; turned about, it presses so the other way.
func TestBodyPressesWhereItTouches(t *testing.T) {
	p := usualBody()
	b := newBody(p, 1)
	assert.Zero(t, b.at(0, 200))
	assert.InDelta(t, b.at(-70, 5), b.at(70, 5), 1e-12)
	p[inBehind], p[perSide+inBehind], p[ofThigh] = 0, 0, math.Log(100)
	b, back := newBody(p, 1), newBody(p, -1)
	front, behind := 0.0, 0.0
	for x := 20.0; x < 100; x++ {
		front, behind = front+b.at(x, -25), behind+b.at(x, 25)
		assert.InDelta(t, b.at(x, -25), back.at(x, 25), 1e-12)
	}
	assert.Greater(t, front, behind)
}

// Two numbers that are expected to be alike leave less than either alone: their covariance has the
// determinant s^4 / (1 + 2 s^2 / d^2), from the inverse of a 2 x 2 matrix.
func TestVolumeOfNumbersAlike(t *testing.T) {
	const s, d = 0.3, 0.12
	r := []expectation{{0, -1, 0, s}, {1, -1, 0, s}, {0, 1, 0, d}}
	assert.InDelta(t, math.Log(s*s/math.Sqrt(1+2*s*s/(d*d))), lnVolume(r), 1e-12)
}

// A body's own mark, soft and broad and cut off by the window, is read within 3 of its uncertainty, by a body
// with the smaller error; dents alone have the top elsewhere.
func TestABodysMarkIsReadByABody(t *testing.T) {
	p := usualBody()
	p[ofSink], p[ofFirm], p[inOut], p[perSide+inOut] = math.Log(28), math.Log(0.6), 16, 16
	s := surface{shape: newBody(p, 1), field: &field{}}
	var at [2][2]float64
	for k := range at {
		x, y := s.shape.middle(k)
		at[k][0], at[k][1] = s.summit(x, y, 24, nearGap)
	}
	drawn := usual()
	light := drawn.light()
	for i := range light {
		x, y := sceneX+sceneStep*float64(i%sceneW), sceneY+sceneStep*float64(i/sceneW)
		ink := 1 - math.Exp(-1.5*math.Max(0, s.at(x, y)-0.08))
		light[i] = 0.85 * math.Pow(1-0.7*ink*(1+0.1*math.Sin(float64(i*i%97))), tone)
	}
	r, err := Fit(light, sceneW, sceneH, sceneX, sceneY, sceneStep, at)
	require.NoError(t, err)
	t.Logf("%+v; true %v", r, at)
	assert.Equal(t, "body", r.Family)
	assert.InDelta(t, math.Hypot(at[1][0]-at[0][0], at[1][1]-at[0][1]), r.distance(), 3*r.SpacingU)
	assert.Less(t, r.SpacingU, 2.0)
}
