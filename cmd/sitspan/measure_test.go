package main

import (
	"bytes"
	"context"
	"encoding/json"
	"fmt"
	"image"
	"image/color"
	"image/png"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// measured runs `measure --json` and gives its objects.
func measured(t *testing.T, wantStatus int, args ...string) []map[string]any {
	t.Helper()
	var stdout, stderr bytes.Buffer
	status := run(context.Background(), append([]string{"measure", "--json"}, args...), &stdout, &stderr)
	require.Equal(t, wantStatus, status, stderr.String())
	var objects []map[string]any
	for line := range strings.Lines(stdout.String()) {
		var o map[string]any
		require.NoError(t, json.Unmarshal([]byte(line), &o), line)
		objects = append(objects, o)
	}
	return objects
}

// contract are the fields on which scripts depend. Those that are null where
// there is no number are there all the same.
var contract = []string{
	"photo", "status", "reasons", "medium", "spacing_mm", "expanded_uncertainty_mm", "coverage", "left_mm",
	"right_mm",
	"left_px", "right_px", "camera_height_mm", "ground_sample_mm", "marks", "budget",
}

func TestMeasureKeepsItsContract(t *testing.T) {
	t.Chdir(t.TempDir()) // no shop.yaml here
	photos := filepath.Join(repository, "testdata/photos")
	blank := filepath.Join(t.TempDir(), "blank.png")
	require.NoError(t, os.WriteFile(blank, grey(400, 300), 0o644))
	paths := []string{filepath.Join(photos, "paper-1.jpg"), filepath.Join(photos, "scan-1.jpg"), blank}
	objects := measured(t, exitReview, append([]string{"--medium", "paper", "--trunk", "45"}, paths...)...)
	require.Len(t, objects, 3)
	for i, o := range objects {
		for _, field := range contract {
			assert.Contains(t, o, field, paths[i])
		}
		assert.Equal(t, paths[i], o["photo"], "the photo is named as the caller named it")
		assert.Equal(t, 0.95, o["coverage"])
		assert.IsType(t, []any{}, o["reasons"])
		assert.IsType(t, []any{}, o["budget"])
	}
	for _, o := range objects[:2] {
		assert.Equal(t, "measured", o["status"])
		line := o["budget"].([]any)[0].(map[string]any)
		for _, field := range []string{"source", "u_mm", "basis"} {
			assert.Contains(t, line, field)
		}
		assertWidth(t, o["width"])
	}
	assert.Nil(t, objects[2]["spacing_mm"])
	assert.NotContains(t, objects[2], "width")
}

// assertWidth: `width` is the object that `size --json` prints.
func assertWidth(t *testing.T, width any) {
	t.Helper()
	var stdout, stderr bytes.Buffer
	require.Zero(t, run(context.Background(), []string{"size", "--spacing", "100", "--u", "1", "--trunk", "45",
		"--json"}, &stdout, &stderr))
	var size map[string]any
	require.NoError(t, json.Unmarshal(stdout.Bytes(), &size))
	got, ok := width.(map[string]any)
	require.True(t, ok)
	for field := range size {
		assert.Contains(t, got, field)
	}
	for _, field := range []string{"required_mm", "width_mm", "verdict", "alternative_mm", "probability"} {
		assert.Contains(t, got, field)
	}
}

// The frame that `frame` draws is found by `measure`: all 12 marks, and its
// scale within 0.05 %. A page of 25.4 mm an inch at a density of d dots per inch
// has 25.4 / d mm a pixel.
func TestTheFrameIsFoundAtTrueSize(t *testing.T) {
	dir := t.TempDir()
	t.Chdir(dir)
	for _, medium := range []string{"foam", "paper"} {
		for _, paper := range []string{"a4", "letter"} {
			for _, dpi := range []float64{150, 300} {
				name := fmt.Sprintf("%s-%s-%g.png", medium, paper, dpi)
				var out, stderr bytes.Buffer
				status := run(context.Background(), []string{"frame", "-o", name, "--paper", paper, "--medium", medium,
					"--dpi", fmt.Sprint(dpi)}, &out, &stderr)
				require.Zero(t, status, stderr.String())
				o := measured(t, exitReview, "--medium", medium, name)[0] // nobody sat on it
				assert.Equal(t, 12.0, o["marks"], name)
				require.IsType(t, 0.0, o["ground_sample_mm"], name)
				assert.InEpsilon(t, 25.4/dpi, o["ground_sample_mm"], 0.0005, name)
			}
		}
	}
}

// grey is a picture with nothing on it.
func grey(w, h int) []byte {
	picture := image.NewGray(image.Rect(0, 0, w, h))
	for y := range h {
		for x := range w {
			picture.SetGray(x, y, color.Gray{Y: 128})
		}
	}
	var b bytes.Buffer
	if err := png.Encode(&b, picture); err != nil {
		panic(err) // a buffer takes all
	}
	return b.Bytes()
}
