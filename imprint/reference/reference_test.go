package reference

import (
	"fmt"
	"image"
	"math"
	"math/rand/v2"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"sitspan/imprint/homography"
)

// view is a pinhole camera for drawn pictures: the plane's axes, tilted about x and turned about the
// picture's middle.
type view struct {
	focal, height, tilt, turn float64
	w, h                      int
}

// plane is the point of the level z mm over the plane that a pixel shows, by its own arithmetic.
func (v view) plane(x, y, z float64) (float64, float64) {
	u, w := (x-float64(v.w-1)/2)/v.focal, (y-float64(v.h-1)/2)/v.focal
	// Ray (u, w, 1) turned about x by the tilt, then about z; the camera stands so that the picture's middle
	// shows (0, 0).
	c, s := math.Cos(v.tilt), math.Sin(v.tilt)
	dy, dz := c*w+s, -s*w+c
	d := v.height / c
	px, py, pz := 0.0, -d*s, -d*c
	k := (-z - pz) / dz
	a, b := px+k*u, py+k*dy
	ct, st := math.Cos(v.turn), math.Sin(v.turn)
	return ct*a + st*b, -st*a + ct*b
}

// draw paints face(a, b), grey levels, over what lies z mm up within outline(a, b) < 0, on paper of 220, 2 x
// 2 times a pixel.
func (v view) draw(z float64, outline func(a, b float64) float64,
	face func(a, b float64) float64) *image.Gray {
	img := image.NewGray(image.Rect(0, 0, v.w, v.h))
	rng := rand.New(rand.NewPCG(1, 2))
	for y := range v.h {
		for x := range v.w {
			sum := 0.0
			for i := range 4 {
				a, b := v.plane(float64(x)+float64(i%2)/2-0.25, float64(y)+float64(i/2)/2-0.25, z)
				if outline(a, b) < 0 {
					sum += face(a, b) / 4
				} else {
					sum += 220. / 4
				}
			}
			img.Pix[y*img.Stride+x] = uint8(math.Max(0, math.Min(255, sum+1.5*rng.NormFloat64()+0.5)))
		}
	}
	return img
}

func roundedBox(a, b, w, h, r float64) float64 {
	dx, dy := math.Abs(a)-(w/2-r), math.Abs(b)-(h/2-r)
	return math.Hypot(math.Max(dx, 0), math.Max(dy, 0)) + math.Min(math.Max(dx, dy), 0) - r
}

// drawnCard is a card of ISO/IEC 7810 ID-1 size (85.60 x 53.98 mm, corners of 3.18 mm: shared reference
// facts, section 4).
func drawnCard(v view, grey float64) *image.Gray {
	return v.draw(0.76, func(a, b float64) float64 { return roundedBox(a, b, 85.60, 53.98, 3.18) },
		func(a, b float64) float64 {
			if math.Abs(a+20) < 6 && math.Abs(b) < 5 {
				return 150 // a chip
			}
			return grey
		})
}

func (v view) known() homography.Focal { return homography.Focal{Pixels: v.focal, U: 0.04 * v.focal} }

// The distances between pixels come back within their own expanded uncertainty (k = 2), which is itself
// small.
func TestCardGivesDistancesBack(t *testing.T) {
	for name, v := range map[string]view{
		"from above":             {1400, 330, 0, 0.2, 1400, 1050},
		"tilted by 10 degrees":   {1400, 330, 10 * math.Pi / 180, 0.1, 1400, 1050},
		"tilted the other way":   {1400, 330, -10 * math.Pi / 180, 1.4, 1400, 1050},
		"tilted by 20, standing": {1400, 350, 20 * math.Pi / 180, 1.6, 1400, 1050},
	} {
		for _, grey := range []float64{60, 245} {
			img := drawnCard(v, grey)
			c, err := NewSearch(img).Card(v.known())
			require.NoError(t, err, "%s, grey %v", name, grey)
			a, b := homography.Pixel{X: 150, Y: 900}, homography.Pixel{X: 700, Y: 980}
			const most = 2 // mm; beyond, nothing would be measured
			requireSpan(t, &c.Pose, v, a, b, most, fmt.Sprintf("%s, grey %v", name, grey))
			camera := c.Camera()
			require.NotNil(t, camera)
			assert.InDelta(t, v.height, camera.Height, 2*camera.UHeight(), name)
			assert.InDelta(t, math.Abs(v.tilt)*180/math.Pi, camera.TiltDegrees, 2, name)
			pa, err := c.PlaneFromImage(a)
			require.NoError(t, err)
			back := c.ImageFromPlane(pa)
			assert.InDelta(t, 0, back.Distance(a), 1e-3, "there and back")
		}
	}
}

// The mask covers all of the card's face.
func TestOutlineCoversTheCard(t *testing.T) {
	v := view{1400, 330, 0.1, 0.3, 1400, 1050}
	c, err := NewSearch(drawnCard(v, 60)).Card(v.known())
	require.NoError(t, err)
	inside := func(p homography.Pixel) bool {
		for i, a := range c.Outline {
			b := c.Outline[(i+1)%4]
			if (b.X-a.X)*(p.Y-a.Y)-(b.Y-a.Y)*(p.X-a.X) < 0 {
				return false
			}
		}
		return true
	}
	for y := range v.h {
		for x := range v.w {
			if a, b := v.plane(float64(x), float64(y), 0.76); roundedBox(a, b, 85.60, 53.98, 3.18) < 0 {
				require.True(t, inside(homography.Pixel{X: float64(x), Y: float64(y)}), "(%d, %d)", x, y)
			}
		}
	}
}

// A label of a card's shape with sharp corners is none, nor is a sheet of ISO 216 shape with round ones.
func TestOtherThingsAreNoCard(t *testing.T) {
	v := view{1400, 330, 0.05, 0.1, 1400, 1050}
	for name, shape := range map[string][3]float64{"a label": {85.60, 53.98, 0.01},
		"ISO 216 A7": {105, 74, 3.18}} {
		img := v.draw(0, func(a, b float64) float64 { return roundedBox(a, b, shape[0], shape[1], shape[2]) },
			func(a, b float64) float64 { return 90 })
		_, err := NewSearch(img).Card(v.known())
		assert.ErrorIs(t, err, ErrNoCard, name)
	}
}

// drawnRule is graduated every unit mm along its lower edge, longer at the multiples given, in lines of the
// lengths given.
func drawnRule(v view, unit float64, multiples []int, lengths []float64) *image.Gray {
	return v.draw(0.8, func(a, b float64) float64 { return roundedBox(a, b, 190, 22, 0.3) },
		func(a, b float64) float64 {
			n := math.Round(a / unit)
			length := lengths[0]
			for i, m := range multiples {
				if int(n)%m == 0 {
					length = lengths[i+1]
				}
			}
			if math.Abs(a-n*unit) < 0.11 && 11-b < length && math.Abs(a) < 85 {
				return 40
			}
			return 170
		})
}

func TestRuleGivesDistancesBack(t *testing.T) {
	for name, c := range map[string]struct {
		v         view
		unit      float64
		multiples []int
		lengths   []float64
	}{
		"millimetres": {view{1500, 230, 0, 0.1, 1400, 1050}, 1, []int{5, 10}, []float64{3, 4.5, 6}},
		"millimetres, tilted": {view{1500, 240, 10 * math.Pi / 180, 1.5, 1400, 1400}, 1, []int{5, 10},
			[]float64{3, 4.5, 6}},
		"half millimetres": {view{1700, 230, 0.1, 0.1, 1500, 1050}, 0.5, []int{2, 10, 20},
			[]float64{2.2, 3.2, 4.5, 6}},
		"millimetres, tilted aslant": {view{1500, 240, -8 * math.Pi / 180, 0.7, 1400, 1400}, 1, []int{5, 10},
			[]float64{3, 4.5, 6}},
		"millimetres, from far above": {view{3000, 500, 0.05, -0.1, 1400, 1050}, 1, []int{5, 10},
			[]float64{3, 4.5, 6}},
	} {
		r, err := NewSearch(drawnRule(c.v, c.unit, c.multiples, c.lengths)).Rule(c.v.known())
		require.NoError(t, err, name)
		assert.Equal(t, c.unit, r.Period, name)
		a, b := homography.Pixel{X: 300, Y: 200}, homography.Pixel{X: 1050, Y: 260}
		requireSpan(t, &r.Pose, c.v, a, b, 1.2, name)
		assert.Positive(t, r.TiltAcrossU)
	}
}

// Sixteenths of an inch are no millimetres (25.4 mm exactly, by definition of the inch).
func TestInchesAreNoRule(t *testing.T) {
	v := view{1500, 230, 0.05, 0.1, 1400, 1050}
	_, err := NewSearch(drawnRule(v, 25.4/16, []int{4, 8, 16}, []float64{3, 4, 5, 6})).Rule(v.known())
	assert.ErrorIs(t, err, ErrNoRule)
}

// Even strokes without longer ones could be anything.
func TestEvenStrokesAreNoRule(t *testing.T) {
	v := view{1500, 230, 0.05, 0.1, 1400, 1050}
	_, err := NewSearch(drawnRule(v, 1, nil, []float64{4})).Rule(v.known())
	assert.ErrorIs(t, err, ErrNoRule)
}

// Noise, flat pictures, tiny ones and stripes across all of it give nothing and no crash.
func TestNothingIsFoundInNothing(t *testing.T) {
	rng := rand.New(rand.NewPCG(3, 4))
	noise := func(w, h int) *image.Gray {
		img := image.NewGray(image.Rect(0, 0, w, h))
		for i := range img.Pix {
			img.Pix[i] = uint8(rng.UintN(256))
		}
		return img
	}
	stripes := image.NewGray(image.Rect(0, 0, 900, 700))
	for i := range stripes.Pix {
		if i%900%8 < 4 {
			stripes.Pix[i] = 255
		}
	}
	for _, img := range []*image.Gray{noise(900, 700), noise(1, 1), noise(3000, 210), noise(199, 2000),
		image.NewGray(image.Rect(0, 0, 0, 0)), image.NewGray(image.Rect(0, 0, 640, 480)), stripes} {
		s := NewSearch(img)
		focal := homography.Focal{Pixels: 900, U: 300}
		_, err := s.Card(focal)
		assert.ErrorIs(t, err, ErrNoCard, "%v", img.Rect)
		_, err = s.Rule(focal)
		assert.ErrorIs(t, err, ErrNoRule, "%v", img.Rect)
	}
}

// requireSpan holds that the distance between two pixels' places is the view's own within twice its standard
// uncertainty, which is less than most mm.
func requireSpan(t *testing.T, pose *Pose, v view, a, b homography.Pixel, most float64, name any) {
	t.Helper()
	ax, ay := v.plane(a.X, a.Y, 0)
	bx, by := v.plane(b.X, b.Y, 0)
	pa, err := pose.PlaneFromImage(a)
	require.NoError(t, err)
	pb, err := pose.PlaneFromImage(b)
	require.NoError(t, err)
	u := 0.0
	for _, s := range pose.SpacingUncertainty(a, b) {
		u = math.Hypot(u, s.U)
	}
	assert.InDelta(t, math.Hypot(ax-bx, ay-by), pa.Distance(pb), 2*u, name)
	assert.Less(t, u, most, name)
}

// The shares are the whole: their squares add up to the variance with nothing known.
func TestSharesAddUp(t *testing.T) {
	v := view{1400, 330, 0.1, 0.3, 1400, 1050}
	c, err := NewSearch(drawnCard(v, 60)).Card(v.known())
	require.NoError(t, err)
	a, b := homography.Pixel{X: 150, Y: 900}, homography.Pixel{X: 700, Y: 980}
	sum := 0.0
	for _, s := range c.SpacingUncertainty(a, b) {
		assert.GreaterOrEqual(t, s.U, 0.0, s.Of)
		sum += s.U * s.U
	}
	free := make([]bool, c.count)
	for i := range free {
		free[i] = true
	}
	whole := c.variance(c.gradient(func(p []float64) float64 { return c.seen(p, a).Distance(c.seen(p, b)) }),
		free)
	assert.InEpsilon(t, whole, sum, 1e-9)
}
