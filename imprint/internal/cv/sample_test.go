package cv

import (
	"image"
	"math"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// grid returns the maps of w x h positions from (x0, y0) in steps of step px,
// turned by deg degrees.
func grid(x0, y0, step, deg float64, w, h int) (mx, my []float32) {
	c, s := step*math.Cos(deg*math.Pi/180), step*math.Sin(deg*math.Pi/180)
	for j := range h {
		for i := range w {
			mx = append(mx, float32(x0+c*float64(i)-s*float64(j)))
			my = append(my, float32(y0+s*float64(i)+c*float64(j)))
		}
	}
	return mx, my
}

func greyOf(w, h int, f func(x, y int) float64) *image.Gray {
	img := image.NewGray(image.Rect(0, 0, w, h))
	for i := range img.Pix {
		img.Pix[i] = uint8(math.Round(f(i%w, i/w)))
	}
	return img
}

// A sample is taken at the position asked for, whatever the reduction: on a
// ramp of one grey level a px the grey level is the position. OpenCV rounds
// positions to 1/32 of a block (INTER_BITS = 5, imgproc.hpp), and a block is
// smaller than the step.
func TestSampleKeepsPositions(t *testing.T) {
	ramp := greyOf(250, 240, func(x, _ int) float64 { return float64(x) })
	down := greyOf(250, 240, func(_, y int) float64 { return float64(y) })
	for _, step := range []float64{0.5, 1, 2.3, 6} {
		mx, my := grid(90, 70, step, 20, 20, 15)
		vx, err := Sample(ramp, mx, my, 20, 15)
		require.NoError(t, err)
		vy, err := Sample(down, mx, my, 20, 15)
		require.NoError(t, err)
		bound := max(1, step)/32/2 + 1e-4 // rounded, and float32
		for i := range mx {
			assert.InDelta(t, mx[i], vx[i], bound)
			assert.InDelta(t, my[i], vy[i], bound)
		}
	}
}

// A coarse grid over fine stripes sees their mean, not their beat.
func TestSampleAverages(t *testing.T) {
	stripes := greyOf(600, 600, func(x, y int) float64 { return 200 * float64((x+y)%2) })
	mx, my := grid(100, 100, 8.5, 3, 40, 40)
	v, err := Sample(stripes, mx, my, 40, 40)
	require.NoError(t, err)
	for _, g := range v {
		// Blocks of 4 x 4 px hold whole periods.
		assert.InDelta(t, 100, g, 1e-3)
	}
}

// The relief is a matter of fractions of a level, so averaging must not round:
// a picture of 100 and 101 in the shares 3 : 1 has the mean 100.25.
func TestSampleDoesNotRound(t *testing.T) {
	img := greyOf(640, 640, func(x, y int) float64 {
		if x%2 == 0 && y%2 == 0 {
			return 101
		}
		return 100
	})
	mx, my := grid(60, 60, 14.5, 0, 30, 30) // blocks of 8 px: whole periods
	v, err := Sample(img, mx, my, 30, 30)
	require.NoError(t, err)
	for _, g := range v {
		assert.InDelta(t, 100.25, g, 1e-4)
	}
}

// The filter is as wide as the mean over a grid cell, g^2/12, of which 1/12 px^2
// is in the pixels already: a lone white pixel, a point here, spreads with the
// rest. The grid's start runs over 1500 places, so that all phases of the grid
// and of the blocks (1, 2 and 3 px) meet: they do so on 1 in 60 or finer.
func TestSampleFilterWidth(t *testing.T) {
	for _, g := range []float64{1.83, 4.17, 6.23} {
		img := image.NewGray(image.Rect(0, 0, 301, 301))
		img.Pix[150*img.Stride+150] = 255
		var weight, second float64
		for i := range 1500 {
			x0 := 30 + 0.0618*float64(i)
			w := int((180 - x0) / g)
			mx, my := grid(x0, 150-5*g, g, 0, w, 10)
			v, err := Sample(img, mx, my, w, 10)
			require.NoError(t, err)
			for i := range v {
				weight += float64(v[i])
				second += float64(v[i]) * math.Pow(float64(mx[i])-150, 2)
			}
		}
		assert.InDelta(t, (g*g-1)/12, second/weight, g*g/12/60, "step %v px", g)
	}
}

func TestSampleOutsideIsNaN(t *testing.T) {
	img := greyOf(50, 40, func(x, y int) float64 { return 7 })
	nan, inf := float32(math.NaN()), float32(math.Inf(1))
	mx := []float32{-0.4, -0.6, 49.4, 49.6, 20, 20, nan, inf, 1e30, 25}
	my := []float32{0, 0, 39, 39, -0.6, 39.6, 5, 5, -1e30, 20}
	v, err := Sample(img, mx, my, len(mx), 1)
	require.NoError(t, err)
	inside := []bool{true, false, true, false, false, false, false, false, false, true}
	for i := range v {
		if inside[i] {
			assert.Equal(t, float32(7), v[i], "sample %d", i)
		} else {
			assert.True(t, math.IsNaN(float64(v[i])), "sample %d", i)
		}
	}
	all, err := Sample(img, []float32{-9}, []float32{nan}, 1, 1)
	require.NoError(t, err)
	assert.True(t, math.IsNaN(float64(all[0])))
}

func TestSampleRefusesBadGrids(t *testing.T) {
	img := greyOf(9, 9, func(x, y int) float64 { return 0 })
	one := []float32{1}
	for name, g := range map[string]struct {
		mx, my []float32
		w, h   int
	}{
		"empty": {nil, nil, 0, 0}, "negative": {one, one, -1, -1}, "short": {one, one, 2, 2},
		"unequal": {one, nil, 1, 1}, "huge": {one, one, 1 << 20, 1 << 20},
	} {
		_, err := Sample(img, g.mx, g.my, g.w, g.h)
		assert.Error(t, err, name)
	}
	_, err := Sample(nil, one, one, 1, 1)
	assert.ErrorIs(t, err, ErrEmptyPicture)
}

// Sampling must not work through the picture pixel by pixel in Go. So the quickest of some
// runs takes no longer than the quickest of as many plain sums over all pixels, five times:
// both are of the same minute on the same machine, however busy it is.
func TestSampleIsQuick(t *testing.T) {
	img := image.NewGray(image.Rect(0, 0, 4032, 3024))
	mx, my := grid(200, 200, 8, 0, 400, 300)
	sampling, summing, sum := time.Hour, time.Hour, 0
	for range 7 {
		start := time.Now()
		_, err := Sample(img, mx, my, 400, 300)
		require.NoError(t, err)
		sampling = min(sampling, time.Since(start))
		start = time.Now()
		for y := range 3024 {
			for x := range 4032 {
				sum += int(img.GrayAt(x, y).Y)
			}
		}
		summing = min(summing, time.Since(start))
	}
	t.Logf("12 MP onto 400 x 300: %v; a sum over 12 MP: %v", sampling, summing)
	assert.Zero(t, sum)
	assert.Less(t, sampling, 5*summing)
}
