package largepages

import (
	"syscall"
	"unsafe"
)

const page = 2 << 20 // bytes, on most processors

// Bytes is zeroed memory, in large pages where the system has them.
func Bytes(n int) []byte {
	b := make([]byte, n)
	first := uintptr(unsafe.Pointer(unsafe.SliceData(b)))
	skip := int((page - first%page) % page)
	if whole := (n - skip) / page * page; n > skip && whole > 0 {
		_ = syscall.Madvise(b[skip:skip+whole], syscall.MADV_HUGEPAGE) // a hint, which no system must heed
	}
	return b
}
