package blocks

import (
	"math/rand/v2"
	"testing"

	"github.com/stretchr/testify/require"
)

// The reference is a mean pixel by pixel.
func TestHalved(t *testing.T) {
	r := rand.New(rand.NewPCG(5, 6))
	for _, c := range [][2]int{{2, 2}, {3, 2}, {1, 1}, {0, 0}, {7, 5}, {8, 4}, {16, 9}, {31, 20}, {640, 41}} {
		w, h := c[0], c[1]
		stride := w + int(r.UintN(5))
		pix := make([]byte, stride*h)
		for i := range pix {
			pix[i] = byte(255 - r.UintN(2)*r.UintN(256))
		}
		half := Halved(pix, stride, w, h)
		require.Len(t, half, (w/2)*(h/2))
		for i, got := range half {
			at := i/(w/2)*2*stride + i%(w/2)*2
			sum := int(pix[at]) + int(pix[at+1]) + int(pix[at+stride]) + int(pix[at+stride+1])
			require.Equal(t, byte((sum+2)/4), got, "%d x %d: %d", w, h, i)
		}
	}
}
