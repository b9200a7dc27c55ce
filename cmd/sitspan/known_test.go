package main

import (
	"bytes"
	"encoding/json"
	"fmt"
	"os"
	"path/filepath"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"sitspan/cmd/sitspan/internal/proof"
	"sitspan/cmd/sitspan/internal/store"
)

// ofTheDotted is the truth of testdata/photos/dotted, which stands for an imprint of known distance: its
// truth.jsonl.
func ofTheDotted(t *testing.T) (photos []string, mm float64) {
	t.Helper()
	folder := filepath.Join(repository, "testdata/photos/dotted")
	text, err := os.ReadFile(filepath.Join(folder, "truth.jsonl"))
	require.NoError(t, err)
	for d := json.NewDecoder(bytes.NewReader(text)); d.More(); {
		var line struct {
			Name    string  `json:"name"`
			Spacing float64 `json:"spacing_mm"`
		}
		require.NoError(t, d.Decode(&line))
		photos, mm = append(photos, filepath.Join(folder, line.Name)), line.Spacing
	}
	require.Len(t, photos, 3)
	return photos, mm
}

func knownRun(t *testing.T, args ...string) (status int, stdout, stderr string) {
	t.Helper()
	var out, errs bytes.Buffer
	status = run(t.Context(), append([]string{"known"}, args...), &out, &errs)
	return status, out.String(), errs.String()
}

// The known distance passes; what a slip of the rule (118 for 120) or a print fitted to the page makes of it
// does not, and the right word is said. A frame printed at 96.5 % makes every distance look larger by that:
// the same photos beside a distance that is as much shorter.
func TestKnownDistanceOfADottedPad(t *testing.T) {
	photos, mm := ofTheDotted(t)
	var data string
	check := func(distance float64) (int, string, string) {
		data = t.TempDir()
		args := []string{"--data", data, "--together", "--medium", "foam", "--distance",
			fmt.Sprintf("%.3f", distance), "--diameter", "40"}
		return knownRun(t, append(args, photos...)...)
	}
	status, stdout, stderr := check(mm)
	assert.Equal(t, exitMeasured, status, stdout+stderr)
	assert.Contains(t, stdout, "may be trusted")

	status, stdout, _ = check(mm * 118 / 120)
	assert.Equal(t, exitReview, status, stdout)
	assert.Contains(t, stdout, "a slip at the rule", "within U a print at 98.4 % would do it, too")
	status, stdout, _ = check(mm * 120 / 118)
	assert.Equal(t, exitReview, status, stdout)
	assert.Contains(t, stdout, "Read the balls' distance again from the rule's zero line")

	status, stdout, _ = check(mm * 0.965)
	assert.Equal(t, exitReview, status, stdout)
	assert.Contains(t, stdout, "Was the print fitted to the page?")

	kept, err := store.KeptIn(t.Context(), data)
	require.NoError(t, err)
	require.Len(t, kept, 1)
	assert.Equal(t, proof.Fitted, kept[0].Verdict)
	assert.Equal(t, "foam", kept[0].Of.Pad)
	assert.True(t, kept[0].Counts, "a check that failed counts until a person leaves it out")
}
