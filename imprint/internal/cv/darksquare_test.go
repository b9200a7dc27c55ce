package cv

import (
	"math/rand/v2"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"sitspan/calibration"
)

// clutter is a picture of boxes of any shade, one upon the other, with a sensor's noise.
func clutter() plane8 {
	p := plane8{pix: make([]byte, 2000*1400), w: 2000, h: 1400}
	r := rand.New(rand.NewPCG(5, 1))
	shade := make([]float64, len(p.pix))
	for range 900 {
		x0, y0, a, b, v := r.IntN(1900), r.IntN(1300), 25+r.IntN(90), 25+r.IntN(90), 20+210*r.Float64()
		for y := y0; y < min(p.h, y0+b); y++ {
			for x := x0; x < min(p.w, x0+a); x++ {
				shade[y*p.w+x] = v
			}
		}
	}
	for i, v := range shade {
		p.pix[i] = byte(v + 3 + 1.5*r.NormFloat64())
	}
	return p
}

// A dark square whose edges could not be measured is left at that when another threshold offers it anew.
func TestADarkSquareWithoutEdgesIsMeasuredOnce(t *testing.T) {
	p := clutter()
	src, err := p.mat()
	require.NoError(t, err)
	defer src.Close()
	s := search{plane: p, d: &Diagnostics{}, mirrored: map[int]bool{}}
	s.look(reduce(src.Mat, searchSide, 1))
	s.look(reduce(src.Mat, retrySide, 1))
	assert.NotEmpty(t, s.unread)
	require.NotEmpty(t, s.edgeless)
	for i, e := range s.edgeless {
		for _, o := range s.edgeless[:i] {
			assert.False(t, cornersWithin(e, o, sameEdges))
		}
	}
	e := s.edgeless[0]
	assert.True(t, cornersWithin(turn(e, 1), e, sameEdges))
	e[2].X++
	assert.False(t, cornersWithin(e, s.edgeless[0], sameEdges))
}

// A payload of one shade is a dark square's, give or take a module; no mark's is.
func TestMarksAreNotPlain(t *testing.T) {
	dark := reading{}
	for row := range dark.black {
		for col := range dark.black[row] {
			dark.black[row][col] = true
		}
	}
	assert.True(t, dark.plain())
	assert.True(t, reading{black: border}.plain())
	dark.black[3][3], dark.black[3][4] = false, false
	assert.False(t, dark.plain())
	for _, m := range calibration.ControlFrame.Marks {
		var r reading
		for row := range r.black {
			for col := range r.black[row] {
				r.black[row][col] = m.Black(row, col)
			}
		}
		assert.False(t, r.plain(), m.ID)
	}
}
