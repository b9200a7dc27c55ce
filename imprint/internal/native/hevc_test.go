//go:build linux && cgo

package native

import (
	"bytes"
	"crypto/sha256"
	"encoding/binary"
	"encoding/hex"
	"image"
	"os"
	"path/filepath"
	"runtime"
	"slices"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"sitspan/imprint/photo"
)

func needHEVC(t testing.TB) {
	t.Helper()
	if !hasHEVC() {
		t.Skip("this system has no libde265")
	}
}

// tiles is what photo hands over of a file.
func tiles(t testing.TB, path string) (c photo.Coded) {
	t.Helper()
	data, err := os.ReadFile(path)
	require.NoError(t, err)
	photo.UseNative(photo.Native{HEIC: func(is photo.Coded) image.Image {
		c = is
		return nil
	}})
	defer photo.UseNative(photo.Native{})
	_, err = photo.Decode(data, path, photo.Limits{})
	require.NoError(t, err)
	require.NotEmpty(t, c.Stream, path)
	return c
}

func decoded(c photo.Coded) image.Image {
	return HEVC(c.Stream, c.Width, c.Height, c.TileWidth, c.TileHeight)
}

const grid = "../../../testdata/photos/foam-window.heic"

// The system's libde265 gives the grey levels that WebAssembly gives: HEVC leaves a decoder no choice. But
// WebAssembly takes a grid's colours to red, green and blue and back, which moves some near white by one.
func TestHEVCIsWhatWebAssemblyReads(t *testing.T) {
	needHEVC(t)
	for path, off := range map[string]int{
		"../../photo/testdata/single.heic": 0, "../../photo/testdata/studio.heic": 0, grid: 100,
	} {
		name := filepath.Base(path)
		data, err := os.ReadFile(path)
		require.NoError(t, err)
		want, err := photo.Decode(data, name, photo.Limits{})
		require.NoError(t, err)
		used := false
		photo.UseNative(photo.Native{HEIC: func(c photo.Coded) image.Image {
			m := decoded(c)
			used = m != nil
			return m
		}})
		t.Cleanup(func() { photo.UseNative(photo.Native{}) })
		got, err := photo.Decode(data, name, photo.Limits{})
		photo.UseNative(photo.Native{})
		require.NoError(t, err)
		require.True(t, used, name)
		assert.Equal(t, want.Orientation, got.Orientation)
		a, b := want.Grey(), got.Grey()
		require.Equal(t, a.Rect, b.Rect)
		const spoiled = 64 // samples; heic v0.4.5 frees a picture before it copies it, which costs its first
		differ := 0
		for i, v := range a.Pix[spoiled:] {
			if w := b.Pix[spoiled+i]; v != w {
				differ++
				require.LessOrEqual(t, max(v, w)-min(v, w), uint8(1), "%s, sample %d", name, spoiled+i)
			}
		}
		assert.LessOrEqual(t, differ, off, name)
		if row := 4 * 64; off == 0 {
			assert.True(t, bytes.Equal(want.Colour(64).Pix[row:], got.Colour(64).Pix[row:]), name)
		}
	}
}

// The planes as stored, not turned. The sum is that of the tiles decoded one by one by FFmpeg 5.1.9, whose
// decoder is another, and laid side by side. With one thread or with many.
func TestAGridIsItsTiles(t *testing.T) {
	needHEVC(t)
	const sum = "9fd17c7cf15b5f814e183fb6e2691033d769ac90781e30db7b2c595a970edfa7"
	c := tiles(t, grid)
	defer runtime.GOMAXPROCS(runtime.GOMAXPROCS(0))
	for _, threads := range []int{1, 2, 16} {
		runtime.GOMAXPROCS(threads)
		m, ok := decoded(c).(*image.YCbCr)
		require.True(t, ok, threads)
		require.Equal(t, image.Rect(0, 0, 1512, 2016), m.Rect)
		all := sha256.Sum256(slices.Concat(m.Y, m.Cb, m.Cr))
		assert.Equal(t, sum, hex.EncodeToString(all[:]), "%d threads", threads)
	}
}

// What is damaged or unlike its header is left to WebAssembly, and so is a stream that its caller made
// wrongly.
func TestOddTilesAreLeftToWebAssembly(t *testing.T) {
	needHEVC(t)
	c := tiles(t, grid)
	for name, spoil := range map[string]func(*photo.Coded){
		"a tile too few":      func(c *photo.Coded) { c.Height -= c.TileHeight },
		"a tile too many":     func(c *photo.Coded) { c.Height += c.TileHeight },
		"narrower tiles":      func(c *photo.Coded) { c.TileWidth = 510 },
		"lower tiles":         func(c *photo.Coded) { c.TileHeight = 510 },
		"odd tiles":           func(c *photo.Coded) { c.TileWidth = 511 },
		"no size":             func(c *photo.Coded) { c.TileWidth = 0 },
		"cut":                 func(c *photo.Coded) { c.Stream = c.Stream[:len(c.Stream)-5] },
		"without its end":     func(c *photo.Coded) { c.Stream = c.Stream[:len(c.Stream)-4] },
		"more than its tiles": func(c *photo.Coded) { c.Stream = append(c.Stream, 0, 0, 0, 0) },
		"damaged":             func(c *photo.Coded) { damage(c.Stream) },
	} {
		spoiled := c
		spoiled.Stream = bytes.Clone(c.Stream)
		spoil(&spoiled)
		assert.Nil(t, decoded(spoiled), name)
	}
	assert.NotNil(t, decoded(c))
}

// damage turns bits over in the longest unit.
func damage(stream []byte) {
	from, n := 0, 0
	for at := 0; at+4 <= len(stream); {
		size := int(binary.BigEndian.Uint32(stream[at:]))
		if size > n {
			from, n = at+4, size
		}
		at += 4 + size
	}
	for i := from + n/3; i < from+n; i += 7 {
		stream[i] ^= 0x55
	}
}

// A decoder is given the memory that its picture may take, and no more.
func TestMemoryIsBounded(t *testing.T) {
	asked := func(mebibytes int) int {
		m := decode(make([]byte, mebibytes), task{kind: hungry, w: 1, h: 1})
		require.IsType(t, &image.Gray{}, m)
		return int(m.(*image.Gray).Pix[0])
	}
	assert.Equal(t, 1, asked(64), "within the 96 MiB beside a picture's own")
	assert.Equal(t, 0, asked(128))
}

// A decoder that waits for nothing is ended after twice its seconds.
func TestTimeIsBounded(t *testing.T) {
	ended := make(chan image.Image)
	go func() { ended <- decode([]byte{1}, task{kind: stuck, w: 1, h: 1, seconds: 1}) }()
	select {
	case m := <-ended:
		assert.Nil(t, m)
	case <-time.After(time.Minute):
		t.Error("the decoder was left alone")
	}
}

// The largest phone's picture, decoded by many threads, keeps within that bound: so many of the grid's tiles
// again.
func TestALargePictureByManyThreadsKeepsWithinItsMemory(t *testing.T) {
	needHEVC(t)
	c := tiles(t, grid)
	one := c.Stream[:end(c.Stream)]
	c.Width, c.Height = 12*c.TileWidth, 8*c.TileHeight // 25 megapixels
	c.Stream = bytes.Repeat(one, 12*8)
	defer runtime.GOMAXPROCS(runtime.GOMAXPROCS(64))
	assert.NotNil(t, decoded(c))
}

// end is where the first tile ends.
func end(stream []byte) (at int) {
	for size := 1; size > 0; at += 4 + size {
		size = int(binary.BigEndian.Uint32(stream[at:]))
	}
	return at
}

// FuzzHEVC holds that no stream ends this process, or keeps it waiting.
func FuzzHEVC(f *testing.F) {
	needHEVC(f)
	c := tiles(f, "../../photo/testdata/single.heic")
	f.Add(c.Stream)
	f.Fuzz(func(t *testing.T, stream []byte) {
		start := time.Now()
		if m := HEVC(stream, c.Width, c.Height, c.TileWidth, c.TileHeight); m != nil {
			require.Equal(t, image.Rect(0, 0, c.Width, c.Height), m.Bounds())
		}
		require.Less(t, time.Since(start), time.Minute)
	})
}
