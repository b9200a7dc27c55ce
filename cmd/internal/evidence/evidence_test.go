package evidence

import (
	"context"
	"fmt"
	"math"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// five readings whose figures are worked out by hand: errors 3, -4, 0, one in review, one refused.
func five() []Result {
	read := func(photo, status string, err, u float64) Result {
		return Result{Reading: Alone, Pad: "foam", Shape: "ball", Photo: photo, Status: status, Error: err, U: u,
			Heights: math.NaN()}
	}
	return []Result{
		read("a", "measured", 3, 2), read("b", "measured", -4, 5), read("c", "measured", 0, 1),
		read("d", "review", 90, 9), read("e", "refused", math.NaN(), math.NaN()),
	}
}

func TestTabulate(t *testing.T) {
	rows := Tabulate(five())
	require.Len(t, rows, 2)
	assert.Equal(t, "all", rows[0].Pad)
	row := rows[1]
	assert.Equal(t, 5, row.N)
	assert.Equal(t, 3, row.Accepted)
	assert.InDelta(t, -1.0/3, row.Bias, 1e-12)
	assert.InDelta(t, math.Sqrt(25.0/3), row.RMS, 1e-12, "of 3, 4 and 0; review does not count")
	assert.Equal(t, -4.0, row.Worst)
	assert.Equal(t, 2, row.Inside)
	assert.Equal(t, 2.0, row.MedianU)
	assert.Zero(t, row.Heights, "no surface was read")

	with := five()
	with[0].Heights, with[2].Heights, with[3].Heights = 0.03, 0.04, 9
	assert.InDelta(t, math.Sqrt(0.0025/2), Tabulate(with)[1].Heights, 1e-12, "not of the review")
}

func TestMarkdownNamesWhatLeftU(t *testing.T) {
	var b strings.Builder
	require.NoError(t, Markdown(&b, append(five(), Result{Reading: Alone, Pad: "foam", Shape: "ball", Photo: "f",
		Status: "crashed", Heights: math.NaN()})))
	assert.Contains(t, b.String(), "| each photo alone | foam | ball | 6 | 3 | -0.33 | 2.89 | -4.00 | 2 | "+
		"2.00 | |\n")
	assert.Contains(t, b.String(), "Accepted with the truth outside U, mm:\n\n- a (each photo alone): +3.00 "+
		"at U = 2.00\n")
	assert.Contains(t, b.String(), "Not answered by the program, mm:\n\n- f (each photo alone)\n")
}

func TestFaults(t *testing.T) {
	good := five()
	good[0].U = 4
	b := NewBaseline(time.Date(2026, 11, 28, 0, 0, 0, 0, time.UTC), "abc", good)
	assert.Empty(t, b.Faults(good), "nothing changed")

	for what, change := range map[string]func(r []Result){
		"a, each photo alone: 3.00 mm off at U = 2.00 mm": func(r []Result) { r[0].U = 2 },
		"each photo alone, foam, ball: 2 of 5 accepted":   func(r []Result) { r[2].Status = "review" },
		"each photo alone, all, all: rms 3.512 mm, it was 2.887 mm": func(r []Result) {
			r[1].Error = -math.Sqrt(28)
			r[1].U = 6
		},
	} {
		now := append([]Result(nil), good...)
		change(now)
		assert.Contains(t, strings.Join(b.Faults(now), "\n"), what)
	}
	slightly := append([]Result(nil), good...)
	slightly[1].Error = -5 * math.Sqrt(1.19*1.19-9.0/25) // an rms of 1.19 times the baseline's
	slightly[1].U = 6
	assert.Empty(t, b.Faults(slightly), "a fifth is let pass")
	assert.NotEmpty(t, b.Faults(nil), "who measures nothing is no better")
}

func TestPhotosOfAnImprint(t *testing.T) {
	dir := t.TempDir()
	truth := ""
	for i, name := range []string{"a", "b", "c"} {
		require.NoError(t, os.WriteFile(filepath.Join(dir, name), nil, 0o644))
		truth += fmt.Sprintf(`{"name":%q,"imprint":%d,"kind":"foam","spacing_mm":120,"depth_mm":[14.4,15.6]}`+"\n",
			name, i/2)
	}
	path := filepath.Join(dir, "truth.jsonl")
	require.NoError(t, os.WriteFile(path, []byte(truth), 0o644))
	photos, err := Load(dir)
	require.NoError(t, err)
	groups := imprints(photos)
	require.Len(t, groups, 2)
	assert.Len(t, groups[0], 2)
	tasks := tasksFor(photos, true)
	require.Len(t, tasks, 8, "three alone and one imprint, each with a gauge, too")
	assert.Equal(t, []string{"measure", "--json", "--medium", "foam", "--depth", "14,16", "--together",
		filepath.Join(dir, "a"), filepath.Join(dir, "b")}, tasks[7].arguments())

	require.NoError(t, os.WriteFile(path, []byte(`{"name":"gone","kind":"foam","spacing_mm":120}`), 0o644))
	_, err = Load(dir)
	assert.ErrorContains(t, err, "gone")
	require.NoError(t, os.WriteFile(path, []byte(`{"name":"a","kind":"foam"}`), 0o644))
	_, err = Load(dir)
	assert.ErrorContains(t, err, "no spacing_mm")
}

// A program that prints a measurement, one that ends badly, and none at all.
func TestMeasure(t *testing.T) {
	dir := t.TempDir()
	require.NoError(t, os.WriteFile(filepath.Join(dir, "a.jpg"), nil, 0o644))
	line := `{"name":"a.jpg","kind":"scan","spacing_mm":120}` + "\n"
	require.NoError(t, os.WriteFile(filepath.Join(dir, "truth.jsonl"), []byte(line), 0o644))
	program := func(script string) Options {
		path := filepath.Join(t.TempDir(), "program")
		require.NoError(t, os.WriteFile(path, []byte("#!/bin/sh\n"+script+"\n"), 0o755))
		return Options{Program: path}
	}
	answer := `echo '{"status":"review","spacing_mm":121.5,"expanded_uncertainty_mm":2,` +
		`"reasons":[{"code":"blur"}]}'; exit 3`
	got, err := Measure(context.Background(), "s", dir, program(answer))
	require.NoError(t, err)
	require.Len(t, got, 1)
	assert.True(t, math.IsNaN(got[0].Heights))
	got[0].Heights = 0
	assert.Equal(t, Result{"s", Alone, "paper, scanned", "not stated", "a.jpg", "review", "blur", 1.5, 2, 0},
		got[0])

	got, err = Measure(context.Background(), "s", dir, program("exit 2"))
	require.NoError(t, err)
	assert.Equal(t, "crashed", got[0].Status)

	_, err = Measure(context.Background(), "s", dir, Options{Program: "no-such-program"})
	assert.ErrorContains(t, err, "to be judged")
}
