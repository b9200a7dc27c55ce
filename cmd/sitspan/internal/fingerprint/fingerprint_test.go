package fingerprint

import (
	"bytes"
	"image"
	"image/color"
	"image/jpeg"
	"math"
	"math/rand/v2"
	"testing"

	"github.com/disintegration/imaging"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"
)

// blots draws some dark blots on grey paper: all that a scan of an imprint is.
func blots(seed uint64, w, h int) *image.Gray {
	rng := rand.New(rand.NewPCG(seed, 1))
	m := image.NewGray(image.Rect(0, 0, w, h))
	type blot struct{ x, y, s, k float64 }
	var all []blot
	for range 5 {
		all = append(all, blot{rng.Float64(), rng.Float64(), 0.03 + 0.1*rng.Float64(), 150 * rng.Float64()})
	}
	for y := range h {
		for x := range w {
			v := 220.0
			for _, b := range all {
				dx, dy := (float64(x)+0.5)/float64(w)-b.x, (float64(y)+0.5)/float64(h)-b.y
				v -= b.k * math.Exp(-(dx*dx+dy*dy)/(2*b.s*b.s))
			}
			m.SetGray(x, y, color.Gray{Y: uint8(math.Max(0, v))})
		}
	}
	return m
}

func saved(t require.TestingT, m image.Image, quality int) image.Image {
	var b bytes.Buffer
	require.NoError(t, jpeg.Encode(&b, m, &jpeg.Options{Quality: quality}))
	out, err := jpeg.Decode(&b)
	require.NoError(t, err)
	return out
}

func TestSavedAgainIsNearAndAnotherIsFar(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		seed := rapid.Uint64Range(0, 1e6).Draw(t, "seed")
		m := blots(seed, 120, 90)
		copyOf := saved(t, imaging.Resize(m, 80, 0, imaging.Linear), rapid.IntRange(40, 95).Draw(t, "quality"))
		other := Of(blots(seed+1e6+1, 120, 90))
		near, far := Of(m).Distance(Of(copyOf)), Of(m).Distance(other)
		assert.Less(t, near, far, "the copy is nearer than another picture")
	})
}

// A turned picture's fingerprint follows from the upright one's, sign by sign,
// except where a coefficient is zero but for rounding.
func TestTurned(t *testing.T) {
	for seed := range uint64(20) {
		m := blots(seed, 96, 96)
		want := Of(imaging.Rotate270(m)) // imaging turns counter-clockwise
		assert.LessOrEqual(t, Of(m).Turned().Distance(want), 1)
		assert.Greater(t, Of(m).Distance(want), 20, "the turn shows")
	}
}

func TestFourQuarterTurnsAreNone(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		p := Print(rapid.SliceOfN(rapid.Uint64(), 4, 4).Draw(t, "print"))
		p[0] &^= 1
		assert.Equal(t, p, p.Turned().Turned().Turned().Turned())
		q, err := Parse(p.String())
		require.NoError(t, err)
		assert.Equal(t, p, q)
	})
}

func TestParseRefuses(t *testing.T) {
	for _, text := range []string{"", "zz", "00ff", string(make([]byte, 64))} {
		_, err := Parse(text)
		assert.ErrorContains(t, err, "no fingerprint", "%q", text)
	}
}
