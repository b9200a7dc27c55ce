package pages

import (
	"syscall"
	"unsafe"
)

const (
	large = 2 << 20 // bytes of a large page on the processors that this is built for
	grown = 4 << 20 // bytes by which Go's heap grows
	// advice is MADV_HUGEPAGE of madvise(2): large pages where they are whole.
	advice = 14
)

// Bytes is n zeros. A system that has no large pages gives small ones.
func Bytes(n int) []byte {
	b := make([]byte, n)
	if n < large {
		return b
	}
	// Outward: what lies beside the bytes is the heap's own, and the next to be taken.
	from := uintptr(unsafe.Pointer(&b[0]))
	first, end := from&^(grown-1), (from+uintptr(n)+grown-1)&^(grown-1)
	syscall.Syscall(syscall.SYS_MADVISE, first, end-first, advice) // may be refused
	return b
}
