package largepages

import (
	"testing"

	"github.com/stretchr/testify/require"
)

// Every byte is there, zero, and holds what is written, whatever the size has to do with pages.
func TestBytes(t *testing.T) {
	for _, n := range []int{0, 1, 4095, 2<<20 - 1, 2 << 20, 4<<20 + 1, 12_000_001} {
		b := Bytes(n)
		require.Len(t, b, n)
		for i := range b {
			if b[i] != 0 {
				t.Fatalf("byte %d of %d is %d", i, n, b[i])
			}
			b[i] = byte(i)
		}
		for i := range b {
			if b[i] != byte(i) {
				t.Fatalf("byte %d of %d was lost", i, n)
			}
		}
	}
}
