package evidence

import (
	"fmt"
	"math"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// filled is a grid of what height says at each point.
func filled(step float64, columns, rows int, height func(x, y float64) float64) *grid {
	g := &grid{step: step, columns: columns, rows: rows}
	for j := range rows {
		for i := range columns {
			x, y := step*(float64(i)-float64(columns-1)/2), step*(float64(j)-float64(rows-1)/2)
			g.mm = append(g.mm, height(x, y))
		}
	}
	return g
}

// What a plane explains is the frame's; what is left counts, over the points that both grids have.
func TestHeightsAboutAPlane(t *testing.T) {
	dent := func(x, y float64) float64 { return 20 * math.Exp(-(x*x+y*y)/800) }
	chequered := func(x, y float64) float64 { return 0.3 * math.Cos(math.Pi*x/2) * math.Cos(math.Pi*y/2) }
	truth := filled(2, 41, 31, dent)
	read := filled(2, 47, 35, func(x, y float64) float64 { return dent(x, y) + 0.35 - 0.02*x + 0.01*y })
	assert.InDelta(t, 0, truth.rmsAbout(read), 1e-9)
	read = filled(2, 47, 35, func(x, y float64) float64 { return dent(x, y) + chequered(x, y) })
	assert.InDelta(t, 0.3, truth.rmsAbout(read), 0.001)
	assert.True(t, math.IsNaN(truth.rmsAbout(filled(2, 21, 15, dent))), "a quarter of the window is no window")
	assert.True(t, math.IsNaN(truth.rmsAbout(filled(3, 47, 35, dent))), "points that hardly ever meet")
}

func TestHeightsBesideAPhoto(t *testing.T) {
	dir := t.TempDir()
	write := func(name, text string) {
		require.NoError(t, os.WriteFile(filepath.Join(dir, name), []byte(text), 0o644))
	}
	write("a.jpg", "")
	write("truth.jsonl", `{"name":"a.jpg","kind":"foam","spacing_mm":120}`)
	photos, err := Load(dir)
	require.NoError(t, err)
	assert.Nil(t, photos[0].heights, "a set need not hold them")

	write("heights-a.csv", "0.5,1\n2,-3\n4,5\n")
	photos, err = Load(dir)
	require.NoError(t, err)
	assert.Equal(t, &grid{2, 2, 3, []float64{0.5, 1, 2, -3, 4, 5}}, photos[0].heights)

	for _, text := range []string{"", "1,2\n3\n", "1,deep\n"} {
		write("heights-a.csv", text)
		_, err = Load(dir)
		assert.ErrorContains(t, err, "heights-a.csv", "%q", text)
	}
}

// The surface in the program's answer, hundredths of a mm, against the one beside the photo.
func TestHeightsOfAnAnswer(t *testing.T) {
	dir := t.TempDir()
	bump := filled(2, 5, 5, func(x, y float64) float64 { return x * y / 100 })
	var csv strings.Builder
	for i, v := range bump.mm {
		fmt.Fprintf(&csv, "%g%s", v, map[bool]string{true: "\n", false: ","}[i%5 == 4])
	}
	for name, text := range map[string]string{"a.jpg": "", "heights-a.csv": csv.String(),
		"truth.jsonl": `{"name":"a.jpg","kind":"foam","spacing_mm":120}`} {
		require.NoError(t, os.WriteFile(filepath.Join(dir, name), []byte(text), 0o644))
	}
	heightsFor := func(relief string) float64 {
		program := filepath.Join(t.TempDir(), "program")
		require.NoError(t, os.WriteFile(program, []byte("#!/bin/sh\necho '"+
			`{"status":"measured","spacing_mm":120,"expanded_uncertainty_mm":1,"relief":`+relief+"}'\n"), 0o755))
		got, err := Measure(t.Context(), "s", dir, Options{Program: program})
		require.NoError(t, err)
		return got[0].Heights
	}
	flat := `{"step_mm":2,"columns":5,"rows":5,"z_hundredths":[` + strings.Repeat("35,", 24) + `35]}`
	assert.InDelta(t, 0.08, heightsFor(flat), 1e-9, "x y over these 25 points has an rms of 8")
	assert.True(t, math.IsNaN(heightsFor(`{"step_mm":2,"columns":5,"rows":5,"z_hundredths":[1]}`)))
	assert.True(t, math.IsNaN(heightsFor("null")))
}
