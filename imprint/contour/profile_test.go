package contour

import (
	"math"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// A ramp along x, 0.1 mm/mm deep, cut through (-60, 0) and (60, 0): by hand the
// places lie 46 and 166 mm along it, 5 and 17 mm deep.
func TestProfileThrough(t *testing.T) {
	ramp := sampled(2, 107, 69, func(x, y float64) float64 { return 11 + 0.1*x })
	u := make([]float64, len(ramp.Z))
	for i := range u {
		u[i] = 0.3
	}
	u[34*107] = math.NaN() // at (-106, 0)
	p, ok := ProfileThrough(ramp, u, Point{-60, 0}, Point{60, 0}, 0.5)
	require.True(t, ok)
	assert.InDelta(t, 212, p.Length(), 1e-9)
	assert.InDelta(t, 46, p.A, 1e-9)
	assert.InDelta(t, 166, p.B, 1e-9)
	assert.InDelta(t, 5, p.DepthAt(p.A), 1e-9)
	assert.InDelta(t, 17, p.DepthAt(p.B), 1e-9)
	assert.InDelta(t, 21.6, p.DepthAt(1000), 1e-9, "the end")
	assert.InDelta(t, 0.6, p.Band(100), 1e-9)
	assert.Zero(t, p.Band(0), "not known")
	assert.Zero(t, p.Band(10000))
	top, bottom := p.Range()
	assert.InDelta(t, 0, top, 1e-9, "the frame's plane is shown")
	assert.InDelta(t, 22.2, bottom, 1e-9)

	bare, ok := ProfileThrough(ramp, nil, Point{-60, 0}, Point{60, 0}, 0.5)
	require.True(t, ok)
	assert.Nil(t, bare.U)
	assert.Zero(t, bare.Band(3))
	_, ok = ProfileThrough(ramp, u, Point{}, Point{}, 0.5)
	assert.False(t, ok)
}

// By hand: 21.6 mm of 212 on a width of 1060 take 108; twice that is 216, three
// times 324, five times 540.
func TestExaggeration(t *testing.T) {
	ramp := sampled(2, 107, 69, func(x, y float64) float64 { return 11 + 0.1*x })
	p, ok := ProfileThrough(ramp, nil, Point{-60, 0}, Point{60, 0}, 0.5)
	require.True(t, ok)
	for height, want := range map[float64]float64{50: 1, 215: 1, 217: 2, 323: 2, 325: 3, 539: 3, 541: 5, 1079: 5,
		1081: 10} {
		assert.Equal(t, want, p.Exaggeration(1060, height), "%g", height)
	}
}
