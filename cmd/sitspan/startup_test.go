package main

import (
	"os"
	"os/exec"
	"path/filepath"
	"slices"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// startUpLimit is what starting the program may take: people feel a tenth of a
// second as at once (common practice, no source).
const startUpLimit = 100 * time.Millisecond

// builtProgram builds the program as the shop gets it, by the Makefile.
func builtProgram(t *testing.T) string {
	t.Helper()
	program := filepath.Join(t.TempDir(), "sitspan")
	build := exec.Command("make", "-s", "build", "BIN="+program)
	build.Dir = "../.."
	build.Env = slices.DeleteFunc(os.Environ(), func(v string) bool {
		return strings.HasPrefix(v, "MAKE") || strings.HasPrefix(v, "CGO_ENABLED=")
	})
	out, err := build.CombinedOutput()
	require.NoError(t, err, string(out))
	return program
}

func TestStartsAtOnce(t *testing.T) {
	program := builtProgram(t)
	version, err := exec.Command(program, "version").Output() // and it is in the disk's cache now
	require.NoError(t, err)
	assert.Regexp(t, `^sitspan \S+ \(go1\.`, string(version))

	// Other work on the machine only ever adds to the time on the clock. So the
	// limit holds for the quickest run, and for the usual processor time, which
	// other work leaves alone.
	const runs = 25
	clock, processor := make([]time.Duration, runs), make([]time.Duration, runs)
	for i := range runs {
		start := time.Now()
		c := exec.Command(program, "version")
		require.NoError(t, c.Run())
		clock[i] = time.Since(start)
		processor[i] = c.ProcessState.UserTime() + c.ProcessState.SystemTime()
	}
	slices.Sort(clock)
	slices.Sort(processor)
	t.Logf("start-up, %d runs of `version`: median %v on the clock (quickest %v), %v of processor time",
		runs, rounded(clock[runs/2]), rounded(clock[0]), rounded(processor[runs/2]))
	assert.Less(t, clock[0], startUpLimit, "quickest, on the clock")
	assert.Less(t, processor[runs/2], startUpLimit, "median of the processor time")
}

func rounded(d time.Duration) time.Duration { return d.Round(100 * time.Microsecond) }
