package pages

import (
	"bufio"
	"fmt"
	"os"
	"runtime"
	"strings"
	"testing"
	"unsafe"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

func TestBytesAreZeros(t *testing.T) {
	for _, n := range []int{0, 1, 4096, 3<<20 + 5, 20 << 20} {
		b := Bytes(n)
		require.Len(t, b, n)
		for i := 0; i < n; i += 1021 {
			require.Zero(t, b[i])
			b[i] = 1
		}
	}
}

// The kernel notes the advice as "hg" among the flags of the memory (proc(5), smaps, VmFlags).
func TestLargePagesAreAskedFor(t *testing.T) {
	if runtime.GOOS != "linux" {
		t.Skip("only Linux is asked for large pages")
	}
	if _, err := os.Stat("/sys/kernel/mm/transparent_hugepage/enabled"); err != nil {
		t.Skip("this system has no large pages")
	}
	b := Bytes(20 << 20)
	middle := uintptr(unsafe.Pointer(&b[10<<20]))
	f, err := os.Open("/proc/self/smaps")
	require.NoError(t, err)
	defer f.Close()
	here, flags := false, ""
	for s := bufio.NewScanner(f); s.Scan(); {
		var first, end uintptr
		if n, _ := fmt.Sscanf(s.Text(), "%x-%x ", &first, &end); n == 2 {
			here = middle >= first && middle < end
		} else if rest, ok := strings.CutPrefix(s.Text(), "VmFlags:"); ok && here {
			flags = rest
		}
	}
	assert.Contains(t, strings.Fields(flags), "hg")
	runtime.KeepAlive(b)
}
