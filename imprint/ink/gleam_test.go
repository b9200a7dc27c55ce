package ink

import (
	"math"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// photographed is the scene under a lamp whose mirror image lies at (x, y), strength of the paper's light, in
// a picture that shows no more than the paper's light over exposure.
func (s scene) photographed(x, y, strength, exposure float64) []float64 {
	const paper, wide = 0.85, 45.0 // light; mm
	light := s.light()
	for i := range light {
		dx, dy := sceneX+sceneStep*float64(i%sceneW)-x, sceneY+sceneStep*float64(i/sceneW)-y
		light[i] += strength * paper * math.Exp(-(dx*dx+dy*dy)/(2*wide*wide))
		light[i] = math.Min(paper/exposure, light[i])
	}
	return light
}

// A gleam over dark marks in a picture whose paper is burnt out: read as a photo the marks lie within its
// interval, and less than half as far off as read as a scan, whose own interval is wide by then.
func TestAGleamIsNotALackOfInk(t *testing.T) {
	for _, one := range []struct{ x, y float64 }{{-25, -20}, {20, 25}} {
		s := usual()
		s.gain, s.grain = 4, 0.02
		light := s.photographed(one.x, one.y, 0.2, 1.5)
		plain, err := fitLight(light, s.rough())
		require.NoError(t, err)
		r, err := FitPhoto(light, sceneW, sceneH, sceneX, sceneY, sceneStep, s.rough())
		require.NoError(t, err)
		far, off := math.Abs(plain.distance()-s.spacing()), math.Abs(r.distance()-s.spacing())
		assert.Less(t, off, far/2, "%v: as a scan %.2f mm off", one, far)
		assert.InDelta(t, s.spacing(), r.distance(), 2*r.SpacingU, "%v", one)
		assert.Less(t, r.SpacingU, 3.0, "%v", one)
	}
}

// In even light that the picture shows a photo is read as a scan is.
func TestAPhotoWithoutGleamIsReadAsAScan(t *testing.T) {
	s := usual()
	scan, err := s.fit()
	require.NoError(t, err)
	photo, err := FitPhoto(s.light(), sceneW, sceneH, sceneX, sceneY, sceneStep, s.rough())
	require.NoError(t, err)
	assert.InDelta(t, scan.distance(), photo.distance(), 0.5*scan.SpacingU)
	assert.InDelta(t, scan.SpacingU, photo.SpacingU, 0.5*scan.SpacingU)
}

// What is shown never exceeds the top, follows the light well below it, and no negative gleam makes it less
// than nothing.
func TestShownLightKeepsItsBounds(t *testing.T) {
	c, err := gather(usual().light(), sceneW, sceneH, sceneX, sceneY, sceneStep, cellSide)
	require.NoError(t, err)
	s, p := c.shine(), make([]float64, lit)
	assert.InDelta(t, 0.5, s.shown(p, 0, 0.5).v, 1e-4)
	for _, l := range []float64{0.9, 1, 1.2, 3} {
		assert.LessOrEqual(t, s.shown(p, 0, l).v, 1.0)
	}
	assert.InDelta(t, 1, s.shown(p, 0, 1.6).v, 1e-4)
	for k := range gleams {
		p[atGleam+k] = -1
	}
	assert.InDelta(t, math.Pow(leastShown, 1/tone), s.shown(p, len(c.x)/2, 0.3).v, 1e-9)
}
