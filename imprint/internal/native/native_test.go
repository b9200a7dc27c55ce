//go:build linux && cgo

package native

import (
	"bytes"
	"image"
	"image/jpeg"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// testdata holds a picture of 75 x 53 px, written by libjpeg-turbo's cjpeg with chroma at each of its shares.
func file(t testing.TB, name string) []byte {
	t.Helper()
	data, err := os.ReadFile(filepath.Join("testdata", name))
	require.NoError(t, err)
	return data
}

// apart is the greatest difference between two planes of w x h samples, and the mean one.
func apart(a, b []byte, strideA, strideB, w, h int) (most int, mean float64) {
	for y := range h {
		for x := range w {
			d := int(a[y*strideA+x]) - int(b[y*strideB+x])
			most, mean = max(most, d, -d), mean+float64(max(d, -d))/float64(w*h)
		}
	}
	return most, mean
}

// The reference is Go's decoder. Both round an inverse cosine transform: ITU-T T.83 lets decoders be off by
// one level, so two may be two apart.
func TestJPEGIsWhatGoReads(t *testing.T) {
	for _, name := range []string{"444", "422", "440", "420", "progressive", "grey"} {
		data := file(t, name+".jpg")
		want, err := jpeg.Decode(bytes.NewReader(data))
		require.NoError(t, err)
		got := JPEG(data, 75, 53)
		require.NotNil(t, got, name)
		require.Equal(t, image.Rect(0, 0, 75, 53), got.Bounds())
		if g, ok := got.(*image.Gray); ok {
			w := want.(*image.Gray)
			most, mean := apart(g.Pix, w.Pix, g.Stride, w.Stride, 75, 53)
			assert.LessOrEqual(t, most, 2, name)
			assert.Less(t, mean, 0.2, name)
			continue
		}
		g, w := got.(*image.YCbCr), want.(*image.YCbCr)
		require.Equal(t, w.SubsampleRatio, g.SubsampleRatio, name)
		cw, ch := g.COffset(74, 0)+1, g.COffset(0, 52)/g.CStride+1
		for k, p := range [3][2][]byte{{g.Y, w.Y}, {g.Cb, w.Cb}, {g.Cr, w.Cr}} {
			most, mean := 0, 0.0
			if k == 0 {
				most, mean = apart(p[0], p[1], g.YStride, w.YStride, 75, 53)
			} else {
				most, mean = apart(p[0], p[1], g.CStride, w.CStride, cw, ch)
			}
			assert.LessOrEqual(t, most, 2, "%s plane %d", name, k)
			assert.Less(t, mean, 0.2, "%s plane %d", name, k)
		}
	}
}

// Whatever is odd or wrong is left to the decoder in Go.
func TestOtherFilesAreLeftToGo(t *testing.T) {
	for _, name := range []string{"rgb", "411"} {
		assert.Nil(t, JPEG(file(t, name+".jpg"), 75, 53), name)
	}
	whole := file(t, "420.jpg")
	assert.Nil(t, JPEG(whole, 76, 53), "another size than the header's")
	assert.Nil(t, JPEG(whole[:len(whole)/2], 75, 53), "cut")
	assert.Nil(t, JPEG(whole[:len(whole)-2], 75, 53), "without its end")
	assert.Nil(t, JPEG(nil, 75, 53))
	assert.Nil(t, JPEG(whole, 0, 53))
	noise := bytes.Clone(whole)
	for i := len(noise) / 2; i < len(noise)-2; i += 3 {
		noise[i] ^= 0x55
	}
	assert.Nil(t, JPEG(noise, 75, 53), "damaged")
}

// A decoder that dies costs one attempt, and leaves no process behind.
func TestACrashCostsOneAttempt(t *testing.T) {
	require.Nil(t, decode([]byte{1}, task{kind: crash, w: 75, h: 53}))
	require.NotNil(t, JPEG(file(t, "420.jpg"), 75, 53))
	children, err := os.ReadFile("/proc/thread-self/children")
	if err == nil {
		assert.Empty(t, strings.TrimSpace(string(children)))
	}
}

// FuzzJPEG holds that no bytes end this process, or keep it waiting.
func FuzzJPEG(f *testing.F) {
	for _, name := range []string{"420.jpg", "progressive.jpg", "grey.jpg"} {
		f.Add(file(f, name))
	}
	f.Fuzz(func(t *testing.T, data []byte) {
		start := time.Now()
		if m := JPEG(data, 75, 53); m != nil {
			require.Equal(t, image.Rect(0, 0, 75, 53), m.Bounds())
		}
		require.Less(t, time.Since(start), time.Minute)
	})
}
