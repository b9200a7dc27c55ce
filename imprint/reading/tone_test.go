package reading

import (
	"bytes"
	"image"
	"image/jpeg"
	"math"
	"math/rand/v2"
	"slices"
	"testing"

	"github.com/disintegration/imaging"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"sitspan/calibration"
	"sitspan/calibration/artwork"
	"sitspan/imprint/homography"
	"sitspan/imprint/photo"
	"sitspan/imprint/relief"
	"sitspan/imprint/tone"
)

// phoned is the frame as it is drawn, cut out and laid on a dark pad, as a phone saves it: under light from
// one side, lifted by so much of what surrounds it over 12 mm, sharpened, with noise.
func phoned(
	t *testing.T,
	frame *photo.Photo,
	place func(relief.Point) homography.Pixel,
	lift, amount float64,
) *photo.Photo {
	t.Helper()
	grey := frame.Grey()
	x0, y0 := place(relief.Point{}).X, place(relief.Point{}).Y
	px := place(relief.Point{X: 1}).X - x0
	v := imaging.Clone(grey)
	for i := range grey.Pix {
		x, y := (float64(i%grey.Stride)-x0)/px, (float64(i/grey.Stride)-y0)/px
		level := 30 + 0.68*float64(grey.Pix[i])
		switch {
		case math.Abs(x) < 106 && math.Abs(y) < 70:
			level = 85 + 12*math.Exp(-(x*x/900+y*y/400))
		case math.Abs(x) > 132 || math.Abs(y) > 96:
			level = 130
		}
		level *= 1 + 0.05*x/100 - 0.04*x*x/1e4
		for c := range 3 {
			v.Pix[4*i+c] = uint8(level + 0.5)
		}
	}
	v = imaging.Blur(v, 1)
	small := imaging.Resize(v, v.Rect.Dx()/8, 0, imaging.Box)
	around := imaging.Resize(imaging.Blur(small, 12*px/8), v.Rect.Dx(), v.Rect.Dy(), imaging.Linear)
	soft := imaging.Blur(v, 1.5)
	r := rand.New(rand.NewPCG(1, 2))
	out := image.NewGray(v.Rect)
	for i := range out.Pix {
		level := float64(v.Pix[4*i]) + lift*(127.5-float64(around.Pix[4*i]))
		level += amount*(float64(v.Pix[4*i])-float64(soft.Pix[4*i])) + 2*r.NormFloat64()
		out.Pix[i] = uint8(math.Max(0, math.Min(255, level+0.5)))
	}
	var b bytes.Buffer
	require.NoError(t, jpeg.Encode(&b, out, &jpeg.Options{Quality: 80}))
	p, err := photo.Decode(b.Bytes(), "made.jpg", photo.Limits{})
	require.NoError(t, err)
	return p
}

// rim is how much brighter the window's middle is than its rim, levels.
func rim(grey *image.Gray, place func(relief.Point) homography.Pixel, local *tone.Tone) float64 {
	var sum, n [2]float64
	for i := range relief.Cells {
		at := relief.At(i)
		q := tone.Pixel(place(at))
		part := 0
		if math.Abs(at.X) < 60 && math.Abs(at.Y) < 35 {
			part = 1
		} else if math.Abs(at.X) < 95 && math.Abs(at.Y) < 57 {
			continue
		}
		sum[part] += 255 * local.Plain(float64(grey.GrayAt(int(q.X+0.5), int(q.Y+0.5)).Y)/255, q)
		n[part]++
	}
	return sum[1]/n[1] - sum[0]/n[0]
}

// The frame's own words, figures and ticks show no tone, however hard a phone sharpens them, and hide none:
// of what lifted shadows take from the window's rim a fifth is left at most, which is what readings may lose.
func TestTheFramesOwnWordsAreNoTone(t *testing.T) {
	for _, paper := range []artwork.Paper{artwork.A4, artwork.Letter} {
		frame, place := drawn(t, calibration.Foam, paper)
		for _, amount := range []float64{0, 2} {
			plain := phoned(t, frame, place, 0, amount).Grey()
			assert.Nil(t, ToneOf(plain, place), "%s, sharpened by %g", paper, amount)
			lifted := phoned(t, frame, place, 0.2, amount).Grey()
			local := ToneOf(lifted, place)
			require.NotNil(t, local, "%s, sharpened by %g", paper, amount)
			before := rim(plain, place, nil)
			moved, left := rim(lifted, place, nil)-before, rim(lifted, place, local)-before
			assert.Greater(t, moved, 3.0)
			assert.InDelta(t, 0, left, moved/5, "%s, sharpened by %g", paper, amount)
		}
	}
}

// Spots are read from white or black of the drawn frame alone, but for big words on one in fifty of the
// white.
func TestSpotsLieOnWhiteAndBlack(t *testing.T) {
	for _, paper := range []artwork.Paper{artwork.A4, artwork.Letter} {
		frame, place := drawn(t, calibration.Foam, paper)
		grey := frame.Grey()
		at := func(x, y float64) tone.Pixel { return tone.Pixel(place(relief.Point{X: x, Y: y})) }
		levels := func(s tone.Spot) (v []float64) {
			for _, q := range s.At {
				v = append(v, float64(grey.GrayAt(int(q.X+0.5), int(q.Y+0.5)).Y))
			}
			slices.Sort(v)
			return v
		}
		white, words := whiteSpots(at), 0
		for _, s := range white {
			if v := levels(s); v[len(v)*3/4] < 240 {
				words++
			}
		}
		assert.Greater(t, len(white), 800, "spots of 9 mm^2 on some 90 cm^2")
		assert.Less(t, words, len(white)/50, paper)
		black := blackSpots(at)
		assert.Greater(t, len(black), 12*24, "the marks' borders alone have 24 each")
		for _, s := range black {
			assert.Less(t, slices.Max(levels(s)), 30.0, "%v", s)
		}
	}
}
