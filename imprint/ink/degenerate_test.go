package ink

import (
	"math"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

func fitLight(light []float64, start [2][2]float64) (Reading, error) {
	return Fit(light, sceneW, sceneH, sceneX, sceneY, sceneStep, start)
}

// What cannot be read is refused by name.
func TestFitRefuses(t *testing.T) {
	s := usual()
	good, start := s.light(), s.rough()
	blank := usual()
	blank.gain = 0
	faint := usual()
	faint.gain = 0.05
	single := usual()
	single.sides[1].height, single.basin, single.sill = 0, 0, 0.1
	inf := s.light()
	inf[100] = math.Inf(1)
	hidden := s.light()
	for i := range hidden[:sceneW*sceneH*6/10] {
		hidden[i] = math.NaN()
	}
	for _, one := range []struct {
		name  string
		light []float64
		start [2][2]float64
		want  error
	}{
		{"a blank sheet", blank.light(), start, ErrNoMark},
		{"hardly any ink", faint.light(), start, ErrNoMark},
		{"one mark", single.light(), start, ErrOneMark},
		{"no light at all", nil, start, ErrBadWindow},
		{"a value short", good[1:], start, ErrBadWindow},
		{"light without bounds", inf, start, ErrBadWindow},
		{"six tenths unseen", hidden, start, ErrBadWindow},
		{"a start that is no number", good, [2][2]float64{{math.NaN(), 0}, {60, 0}}, ErrBadWindow},
		{"a start outside", good, [2][2]float64{{-160, 0}, {60, 0}}, ErrBadWindow},
		{"both starts in one place", good, [2][2]float64{{0, 0}, {10, 0}}, ErrBadWindow},
		{"left and right exchanged", good, [2][2]float64{start[1], start[0]}, ErrBadWindow},
	} {
		_, err := fitLight(one.light, one.start)
		require.ErrorIs(t, err, one.want, one.name)
	}
	for _, step := range []float64{0, -1, math.NaN(), math.Inf(1)} {
		_, err := Fit(good, sceneW, sceneH, sceneX, sceneY, step, start)
		require.ErrorIs(t, err, ErrBadWindow)
	}
	_, err := Fit(good[:64], 8, 8, 0, 0, 1, start)
	require.ErrorIs(t, err, ErrBadWindow, "8 mm of paper")
}

// A third mark of like ink, off the line of the two, is noticed.
func TestFitNoticesAThirdMark(t *testing.T) {
	s := usual()
	s.sill = 0.6
	light := s.light()
	for i := range light {
		x, y := sceneX+sceneStep*float64(i%sceneW), sceneY+sceneStep*float64(i/sceneW)
		if math.Hypot(x, y-40) < 16 {
			light[i] = 0.85 * math.Pow(0.3, 2.2)
		}
	}
	_, err := fitLight(light, s.rough())
	require.ErrorIs(t, err, ErrManyMarks)
}

// Where the sheet ends, nothing is known; that is not blank paper. A strip taken away over one mark's outer
// flank changes the reading by no more than its uncertainty, and widens it; taken for blank it pushes the
// mark inward by more.
func TestUnseenPaperIsNotBlankPaper(t *testing.T) {
	s := usual()
	s.grain = 0.01
	whole, err := s.fit()
	require.NoError(t, err)
	cut, white := s.light(), s.light()
	for i := range cut {
		if x := sceneX + sceneStep*float64(i%sceneW); x > 72 {
			cut[i], white[i] = math.NaN(), 0.85
		}
	}
	a, err := fitLight(cut, s.rough())
	require.NoError(t, err)
	assert.InDelta(t, whole.Right.X, a.Right.X, 2*math.Sqrt(a.Right.Cov[0][0]))
	assert.Greater(t, a.Right.Cov[0][0], whole.Right.Cov[0][0])
	b, err := fitLight(white, s.rough())
	if err == nil {
		assert.Greater(t, math.Abs(b.Right.X-s.truth()[1][0]), math.Abs(a.Right.X-s.truth()[1][0]))
	}
}
