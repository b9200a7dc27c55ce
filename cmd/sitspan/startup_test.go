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

	// Other work on the machine only ever adds time, so the best of a few
	// medians is nearest to what the program itself takes.
	best := time.Hour
	for range 3 {
		best = min(best, medianRun(t, program, 11))
	}
	t.Logf("start-up: %v, median of 11 runs of `version`", best.Round(100*time.Microsecond))
	assert.Less(t, best, startUpLimit)
}

func medianRun(t *testing.T, program string, runs int) time.Duration {
	t.Helper()
	times := make([]time.Duration, runs)
	for i := range times {
		start := time.Now()
		require.NoError(t, exec.Command(program, "version").Run())
		times[i] = time.Since(start)
	}
	slices.Sort(times)
	return times[runs/2]
}
