package main

import (
	"bufio"
	"bytes"
	"encoding/json"
	"fmt"
	"os"
	"path/filepath"
	"strings"
	"syscall"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"sitspan/cmd/sitspan/internal/bare"
	"sitspan/cmd/sitspan/internal/proof"
	"sitspan/cmd/sitspan/internal/store"
	"sitspan/cmd/sitspan/internal/words"
	"sitspan/imprint/photo"
)

// ofTheDotted is a body's imprint, testdata/photos/dotted, and its distance.
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

// unwrapped is a text without its line breaks.
func unwrapped(text string) string { return strings.Join(strings.Fields(text), " ") }

// presses are the photos of testdata/presses by what was pressed, and the balls' distance there.
type presses struct {
	photos   map[string][]string
	distance map[string]float64
}

func readPresses(t *testing.T) presses {
	t.Helper()
	folder := filepath.Join(repository, "testdata/presses")
	file, err := os.Open(filepath.Join(folder, "truth.jsonl"))
	require.NoError(t, err)
	defer file.Close()
	read := presses{map[string][]string{}, map[string]float64{}}
	for lines := bufio.NewScanner(file); lines.Scan(); {
		var line struct {
			Name, Press string
			Distance    float64 `json:"ball_distance_mm"`
		}
		require.NoError(t, json.Unmarshal(lines.Bytes(), &line))
		read.photos[line.Press] = append(read.photos[line.Press], filepath.Join(folder, line.Name))
		read.distance[line.Press] = line.Distance
	}
	return read
}

// Pressed balls whose distance is known. What is right passes, through a lens that bends lines to waves, too,
// which is said.
// What is wrong with print, rule or balls gets the word that helps.
func TestKnownPresses(t *testing.T) {
	if testing.Short() {
		t.Skip("a minute of measuring")
	}
	read := readPresses(t)
	// 1.7 % lie near to what a print may do: U settles which of the two is said, and both send to the rule.
	const slip proof.Verdict = "off, or print_or_rule"
	for _, row := range []struct {
		name, press string
		rule        float64 // what is said over what is true
		status      int
		verdict     proof.Verdict
		said        string
	}{
		{"right", "pair", 1, exitMeasured, proof.Passed, "may be trusted"},
		{"118 read for 120", "pair", 118.0 / 120, exitReview, slip, "ead the balls' distance again"},
		{"120 read for 118", "pair", 120.0 / 118, exitReview, proof.Off, "from the rule's zero line"},
		{"the frame printed at 96.5 %", "fitted", 1, exitReview, proof.Fitted, "the print fitted to the page?"},
		{"an add-on lens", "lens", 1, exitMeasured, proof.PassedLens, "bends lines more than a phone's own does"},
		{"one ball", "one", 1, exitReview, proof.NoNumber, "Was one ball pressed?"},
		{"unequal balls", "unequal", 1, exitReview, proof.Unlike, "no pair of equal balls"},
	} {
		t.Run(row.name, func(t *testing.T) {
			require.NotEmpty(t, read.photos[row.press])
			data := t.TempDir()
			args := append([]string{"--data", data, "--together", "--distance",
				fmt.Sprintf("%.2f", row.rule*read.distance[row.press])}, read.photos[row.press]...)
			status, stdout, stderr := knownRun(t, args...)
			assert.Equal(t, row.status, status, stdout+stderr)
			assert.Contains(t, unwrapped(stdout+stderr), row.said)
			kept, err := store.KeptIn(t.Context(), data)
			require.NoError(t, err)
			require.Len(t, kept, 1)
			if row.verdict == slip {
				assert.Contains(t, []proof.Verdict{proof.Off, proof.PrintOrNot}, kept[0].Verdict)
			} else {
				assert.Equal(t, row.verdict, kept[0].Verdict)
			}
			if row.verdict.Trusted() {
				assert.InDelta(t, 0, kept[0].En(), 1)
			}
			assert.Equal(t, "foam", kept[0].Of.Pad)
			counts := row.verdict != proof.NoNumber && row.verdict != proof.Unlike
			assert.Equal(t, counts, kept[0].Counts, "a check that failed counts; one without a pair does not")
		})
	}
}

// A rider's imprint beside a distance that is none of its own does not pass, and whose word it was is said.
func TestKnownTakesTheWordForWhatWasPressed(t *testing.T) {
	if testing.Short() {
		t.Skip("some seconds of measuring")
	}
	photos, mm := ofTheDotted(t)
	args := []string{"--data", t.TempDir(), "--together", "--distance", fmt.Sprintf("%.1f", mm-6)}
	args = append(args, photos...)
	status, stdout, stderr := knownRun(t, args...)
	assert.Equal(t, exitReview, status, stdout)
	assert.NotContains(t, unwrapped(stdout), "may be trusted")
	assert.Contains(t, unwrapped(stderr), "a rider's imprint cannot be told from two balls'")
}

// A check's print is that which lies on the medium, and which medium it is the photos say: nobody else did.
func TestKnownKeepsThePrintOfItsMedium(t *testing.T) {
	if testing.Short() {
		t.Skip("some seconds of measuring")
	}
	settings := filepath.Join(t.TempDir(), "shop.yaml")
	require.NoError(t, os.WriteFile(settings, []byte("print: {scale_x: 0.998, scale_x_u: 0.001}\n"+
		"print_paper: {scale_x: 1.004, scale_x_u: 0.001}\n"), 0o600))
	for print, photos := range map[string][]string{
		"0.9980 x 0.9980": readPresses(t).photos["pair"],
		"1.0040 x 1.0040": {filepath.Join(repository, "testdata/photos/paper-1.jpg")},
	} {
		data := t.TempDir()
		args := []string{"--data", data, "--shop", settings, "--distance", "120"}
		if len(photos) > 1 {
			args = append(args, "--together")
		}
		_, stdout, stderr := knownRun(t, append(args, photos...)...)
		kept, err := store.KeptIn(t.Context(), data)
		require.NoError(t, err)
		require.Len(t, kept, 1, stdout+stderr)
		assert.Equal(t, print, kept[0].Of.Print, stdout)
	}
}

func TestTheListNamesPadsInItsLanguage(t *testing.T) {
	assert.Contains(t, checkLine(words.German, store.Check{Pad: "foam"}), "Schaum")
	assert.Contains(t, checkLine(words.German, store.Check{Pad: "blue pad"}), "blue pad")
}

// The same photo counts once, under two names and without its EXIF, too; nothing is kept of a run
// that was refused.
func TestKnownTakesAPhotoOnce(t *testing.T) {
	original := filepath.Join(repository, "testdata/photos/foam-window.jpg")
	content, err := os.ReadFile(original)
	require.NoError(t, err)
	stripped, _, err := bare.Make(content, original, photo.Limits{})
	require.NoError(t, err)
	folder := t.TempDir()
	for name, content := range map[string][]byte{"copy.jpg": content, "stripped.jpg": stripped} {
		second, data := filepath.Join(folder, name), t.TempDir()
		require.NoError(t, os.WriteFile(second, content, 0o600))
		status, stdout, stderr := knownRun(t, "--data", data, "--distance", "120", original, second)
		assert.Equal(t, exitUsage, status, stdout)
		assert.Contains(t, stderr, "are the same photo")
		kept, err := store.KeptIn(t.Context(), data)
		require.NoError(t, err)
		assert.Empty(t, kept)
	}
}

// A file that is larger than a photo may be is not read whole: one byte more shows that.
func TestAPhotoIsReadAsFarAsItMayBeLarge(t *testing.T) {
	path := filepath.Join(t.TempDir(), "large.jpg")
	require.NoError(t, os.WriteFile(path, nil, 0o600))
	require.NoError(t, os.Truncate(path, 3*photo.DefaultBytes))
	data, err := readPhoto(path)
	require.NoError(t, err)
	assert.Len(t, data, photo.DefaultBytes+1)
	pipe := filepath.Join(t.TempDir(), "pipe.jpg")
	require.NoError(t, syscall.Mkfifo(pipe, 0o600))
	_, err = readPhoto(pipe)
	assert.ErrorContains(t, err, "pipe.jpg", "nobody ever writes into it")
}
