//go:build !linux

package largepages

// Bytes is zeroed memory.
func Bytes(n int) []byte { return make([]byte, n) }
