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

// startUpSteps is what starting the program may take, in steps of a sum in which each waits
// for the one before: some four cycles, so a tenth of a second at 3 GHz, which people feel as
// at once (common practice, no source). Counted in steps and not in time, since the steps
// get slower with the machine.
const startUpSteps = 75_000_000

// steps takes the time of so many steps.
func steps(n int) time.Duration {
	start, sum := time.Now(), uint64(1)
	for range n {
		sum = sum*6364136223846793005 + 1442695040888963407
	}
	if sum == 0 {
		panic("the sum is looked at, so that it is worked out")
	}
	return time.Since(start)
}

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

	// Other work on the machine only ever adds to the time on the clock. So the quickest
	// start is compared with the quickest of as many sums, taken in turns.
	const runs = 25
	clock, sums := make([]time.Duration, runs), make([]time.Duration, runs)
	for i := range runs {
		sums[i] = steps(startUpSteps)
		start := time.Now()
		c := exec.Command(program, "version")
		require.NoError(t, c.Run())
		clock[i] = time.Since(start)
	}
	slices.Sort(clock)
	slices.Sort(sums)
	t.Logf("start-up, %d runs of `version`: median %v on the clock (quickest %v); the quickest sum %v",
		runs, rounded(clock[runs/2]), rounded(clock[0]), rounded(sums[0]))
	assert.Less(t, clock[0], sums[0], "quickest start, quickest sum")
}

func rounded(d time.Duration) time.Duration { return d.Round(100 * time.Microsecond) }
