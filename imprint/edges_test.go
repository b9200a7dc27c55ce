package imprint

import (
	"context"
	"image"
	"math"
	"testing"

	"github.com/disintegration/imaging"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"sitspan/calibration"
)

// A step edge under a Gaussian blur of known standard deviation; the box filters that imaging uses for one are good to a few per
// cent, and a central difference of a pixel either way widens it by 1/3 px^2 (the variance of a box two pixels wide).
func TestEdgesKnowTheirBlur(t *testing.T) {
	step := image.NewGray(image.Rect(0, 0, 1600, 1200))
	for i := range step.Pix {
		step.Pix[i] = 40
		if (i%1600/200+i/1600/200)%2 == 1 {
			step.Pix[i] = 200
		}
	}
	for _, sigma := range []float64{1, 3, 5} {
		got, soft := isSoft(grayOf(imaging.Blur(step, sigma)))
		assert.InEpsilon(t, math.Sqrt(sigma*sigma+1.0/3), got, 0.1)
		assert.Equal(t, sigma > softEdge, soft)
	}
	_, soft := isSoft(step)
	assert.False(t, soft)
	_, soft = isSoft(image.NewGray(image.Rect(0, 0, 800, 600)))
	assert.False(t, soft, "where there are no edges, nothing is said")
}

func grayOf(img image.Image) *image.Gray {
	g := image.NewGray(img.Bounds())
	n := imaging.Clone(img)
	for i := range g.Pix {
		g.Pix[i] = n.Pix[4*i]
	}
	return g
}

// Blurred until no mark is to be seen, or shaken along the columns only: that is blur, and not a missing frame.
func TestBlurIsNamedWhereNoMarkIsLeft(t *testing.T) {
	m := meter(t)
	foam := read(t, "foam-two-lamps.jpg").Colour(1000)
	shaken := imaging.Clone(foam)
	const reach = 20
	for i := range shaken.Pix {
		sum, n := 0, 0
		for k := -reach; k <= reach; k++ {
			if j := i + k*shaken.Stride; j >= 0 && j < len(shaken.Pix) {
				sum, n = sum+int(foam.Pix[j]), n+1
			}
		}
		shaken.Pix[i] = uint8(sum / n)
	}
	for name, img := range map[string]image.Image{"out of focus": imaging.Blur(foam, 9), "shaken": shaken} {
		got, err := m.Measure(context.Background(), encode(t, img), Settings{Medium: calibration.Foam})
		require.NoError(t, err)
		require.Equal(t, Refused, got.Status, name)
		assert.Equal(t, []string{"blur"}, codes(got), name)
	}
}
