package reference

import (
	"image"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"sitspan/imprint/homography"
)

// striped is a strip of grey paper with strokes of so many px from one place to another, and some noise.
func striped(from, to int, period float64) *image.Gray {
	img := image.NewGray(image.Rect(0, 0, 2400, 40))
	noise := uint32(1)
	for y := range 40 {
		for x := range 2400 {
			noise = noise*1664525 + 1013904223
			v := 120 + int(noise>>30)
			if k := float64(x) / period; x >= from && x < to && k-float64(int(k)) < 0.3 {
				v -= 60
			}
			img.Pix[y*img.Stride+x] = uint8(v)
		}
	}
	return img
}

// covered lays a plain thing on the strip.
func covered(img *image.Gray, from, to int) *image.Gray {
	for i := range img.Pix {
		if x := i % img.Stride; x >= from && x < to {
			img.Pix[i] = 120
		}
	}
	return img
}

// A stretch goes on behind what covers a part of it.
func TestAStretchGoesOnBehindACover(t *testing.T) {
	for _, wide := range []int{120, 200, 240} {
		l := newLooks(covered(striped(200, 2000, 7), 1100, 1100+wide))
		s := strip{ox: 20, oy: 20, dx: 1}
		l.begin(s, 0, 33)
		want := l.longest(0, 32, s)
		require.Greater(t, want.periods, 220.0, wide)
		assert.Equal(t, want, l.scan(s, 0, 33), wide)
	}
}

// The stretch found from every second window is the one that all windows show, wherever it lies and however
// short it is. Which it is, the picture says.
func TestSecondWindowsFindEveryStretch(t *testing.T) {
	const windows = 33
	for _, period := range []float64{2.6, 4, 7, 11, 19} {
		for _, length := range []int{25, 40, 90} {
			px := int(period * float64(length))
			for from := 300; from < 300+2*windowHop; from += 16 {
				l := newLooks(striped(from, from+px, period))
				s := strip{ox: 20, oy: 20, dx: 1}
				l.begin(s, 0, windows)
				want := l.longest(0, windows-1, s)
				got := l.scan(s, 0, windows)
				if want.periods < leastPeriods {
					continue
				}
				require.Equal(t, want, got, "%v px from %d, %d periods", period, from, length)
				assert.InDelta(t, 1/period, median(got.frequency), 0.03/period)
			}
		}
	}
}

// A window that leaves the picture shows nothing, and neither does one of noise.
func TestNothingIsPeriodicInNoise(t *testing.T) {
	l := newLooks(striped(0, 0, 5))
	assert.Zero(t, l.scan(strip{ox: 20, oy: 20, dx: 1}, 0, 33).periods)
	assert.Zero(t, l.scan(strip{ox: -3000, oy: 20, dx: 1}, 0, 33).periods)
}

// Levels along a line are those at its points, and none outside.
func TestLevelsAlongALine(t *testing.T) {
	img := striped(0, 2400, 7)
	from, step := homography.Pixel{X: 2.3, Y: 38.2}, homography.Pixel{X: 0.9, Y: -0.43}
	got := make([]float64, 120)
	addLine(got, img, from, step)
	for i, v := range got {
		want := at(img, homography.Pixel{X: from.X + float64(i)*step.X, Y: from.Y + float64(i)*step.Y})
		if want != want {
			assert.NotEqual(t, v, v, i) // no number
		} else {
			assert.InDelta(t, want, v, 1e-9, i)
		}
	}
	assert.NotEqual(t, got[119], got[119])
}

// Squares are averaged as numbers are; what is left over at the rims is left out.
func TestSquaresAreAveraged(t *testing.T) {
	img := striped(0, 2400, 5)
	l := reduced(img, 7)
	require.Equal(t, 342, l.w)
	require.Equal(t, 5, l.h)
	for i, v := range l.v {
		sum := 0
		for y := i / l.w * 7; y < i/l.w*7+7; y++ {
			for x := i % l.w * 7; x < i%l.w*7+7; x++ {
				sum += int(img.Pix[y*img.Stride+x])
			}
		}
		require.InDelta(t, float64(sum)/49, float64(v), 1e-4)
	}
}
