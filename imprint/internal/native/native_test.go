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

	"sitspan/imprint/photo"
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
	assert.Nil(t, HEIC(whole, 75, 53), "no HEIC")
}

// A decoder that dies costs one attempt, and leaves no process behind.
func TestACrashCostsOneAttempt(t *testing.T) {
	require.Nil(t, decode(0, []byte{1}, 75, 53))
	require.NotNil(t, JPEG(file(t, "420.jpg"), 75, 53))
	children, err := os.ReadFile("/proc/thread-self/children")
	if err == nil {
		assert.Empty(t, strings.TrimSpace(string(children)))
	}
}

// The system's libheif gives the grey levels that its WebAssembly gives: HEVC leaves a decoder no choice.
func TestHEICIsWhatWebAssemblyReads(t *testing.T) {
	if !hasHEIF() {
		t.Skip("this system has no libheif")
	}
	for _, name := range []string{"single.heic", "studio.heic"} {
		data, err := os.ReadFile(filepath.Join("..", "..", "photo", "testdata", name))
		require.NoError(t, err)
		want, err := photo.Decode(data, name, photo.Limits{})
		require.NoError(t, err)
		used := false
		photo.UseNative(func(_ photo.Format, data []byte, w, h int) image.Image {
			m := HEIC(data, w, h)
			used = m != nil
			return m
		})
		t.Cleanup(func() { photo.UseNative(nil) })
		got, err := photo.Decode(data, name, photo.Limits{})
		photo.UseNative(nil)
		require.NoError(t, err)
		require.True(t, used, name)
		a, b := want.Grey(), got.Grey()
		require.Equal(t, a.Rect, b.Rect)
		const spoiled = 64 // samples; heic v0.4.5 frees a picture before it copies it, which costs its first
		assert.True(t, bytes.Equal(a.Pix[spoiled:], b.Pix[spoiled:]), name)
		for i := range spoiled {
			assert.Equal(t, b.Pix[spoiled-1]/64, b.Pix[i]/64, "%s: the first block is even, and was coded so", name)
		}
		row := 4 * 64
		assert.True(t, bytes.Equal(want.Colour(64).Pix[row:], got.Colour(64).Pix[row:]), name)
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
