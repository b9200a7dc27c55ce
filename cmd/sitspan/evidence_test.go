package main

import (
	"context"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"sitspan/cmd/internal/evidence"
)

// The bundled photos with known truth are read no worse than when they were last looked at:
// testdata/known/README.md says what they are, and how the baseline is made again. Which of the program's own
// numbers they are compared with lies in baseline.json; the truth, of each photo, in truth.jsonl.
func TestKnownPhotosAreReadAsWellAsBefore(t *testing.T) {
	if testing.Short() {
		t.Skip("a minute of measuring")
	}
	known := filepath.Join(repository, "testdata", "known")
	baseline, err := evidence.LoadBaseline(filepath.Join(known, "baseline.json"))
	require.NoError(t, err)
	program, err := exec.LookPath("sitspan") // TestMain's, which is this build
	require.NoError(t, err)
	require.True(t, strings.HasPrefix(program, os.TempDir()), "%s is another build's", program)

	t.Chdir(t.TempDir()) // no shop.yaml is near
	results, err := evidence.Measure(context.Background(), "known", known,
		evidence.Options{Program: program, Workers: 2})
	require.NoError(t, err)
	require.NotEmpty(t, baseline.Rows)
	for _, fault := range baseline.Faults(results) {
		assert.Fail(t, fault, "the baseline is of %s, version %s", baseline.Date, baseline.Commit)
	}
}
