//go:build !linux

package pages

// Bytes is n zeros.
func Bytes(n int) []byte { return make([]byte, n) }
