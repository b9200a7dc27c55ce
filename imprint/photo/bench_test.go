package photo

import (
	"bytes"
	"image"
	"image/jpeg"
	"math/rand/v2"
	"os"
	"testing"

	"github.com/stretchr/testify/require"
)

// phonePhoto is a 12 megapixel JPEG with grain, stored sideways as phones do.
// SITSPAN_BENCH_PHOTO names another file to take instead.
func phonePhoto(b *testing.B) []byte {
	if name := os.Getenv("SITSPAN_BENCH_PHOTO"); name != "" {
		data, err := os.ReadFile(name)
		require.NoError(b, err)
		return data
	}
	m := image.NewRGBA(image.Rect(0, 0, 4032, 3024))
	random := rand.New(rand.NewPCG(1, 2))
	for i := 0; i < len(m.Pix); i += 4 {
		x, y := i/4%4032, i/4/4032
		v := byte(60 + (x+y)/50%128 + random.IntN(6))
		copy(m.Pix[i:], []byte{v, v - 20, v - 40, 255})
	}
	var plain bytes.Buffer
	require.NoError(b, jpeg.Encode(&plain, m, &jpeg.Options{Quality: 92}))
	data := append([]byte{0xff, 0xd8}, exifSegment(cameraBlock(6, 4032, 3024))...)
	return append(data, plain.Bytes()[2:]...)
}

func BenchmarkDecode12MP(b *testing.B) {
	data := phonePhoto(b)
	for b.Loop() {
		_, err := Decode(data, "a.jpg", Limits{})
		require.NoError(b, err)
	}
}

func BenchmarkGrey12MP(b *testing.B) {
	p, err := Decode(phonePhoto(b), "a.jpg", Limits{})
	require.NoError(b, err)
	require.Equal(b, 6, p.Orientation)
	for b.Loop() {
		p.Grey()
	}
}

func BenchmarkColour12MP(b *testing.B) {
	p, err := Decode(phonePhoto(b), "a.jpg", Limits{})
	require.NoError(b, err)
	for b.Loop() {
		p.Colour(1600)
	}
}
