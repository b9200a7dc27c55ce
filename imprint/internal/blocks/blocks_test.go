package blocks

import (
	"math/rand/v2"
	"testing"

	"github.com/stretchr/testify/require"
)

// The reference is a sum pixel by pixel.
func TestSums(t *testing.T) {
	r := rand.New(rand.NewPCG(3, 4))
	for _, c := range []struct{ w, h, k int }{
		{1, 1, 1}, {7, 5, 1}, {64, 20, 3}, {101, 53, 5}, {40, 40, 8}, {530, 520, 259}, {1100, 600, 300}, {5, 5, 6},
	} {
		stride := c.w + int(r.UintN(9))
		pix := make([]byte, stride*(c.h-1)+c.w)
		for i := range pix {
			pix[i] = byte(255 - r.UintN(3)*r.UintN(90))
		}
		seen := 0
		Sums(pix, stride, c.w, c.h, c.k, func(y int, sums []uint32) {
			require.Equal(t, seen, y)
			seen++
			require.Len(t, sums, c.w/c.k)
			for b, got := range sums {
				want := uint32(0)
				for j := range c.k {
					for _, v := range pix[(y*c.k+j)*stride+b*c.k:][:c.k] {
						want += uint32(v)
					}
				}
				require.Equal(t, want, got, "%v: block %d, %d", c, b, y)
			}
		})
		require.Equal(t, c.h/c.k, seen)
	}
}
