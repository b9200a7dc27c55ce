package main

import (
	"bytes"
	"encoding/binary"
	"fmt"
	"image"
	"image/color"
	"image/jpeg"
	"math"
	"os"
	"path/filepath"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"sitspan/cmd/sitspan/internal/proof"
	"sitspan/cmd/sitspan/internal/store"
)

// bending is where a lens shows what was at (x, y), in half the picture's diagonal from its middle.
type bending func(x, y float64) (u, v float64)

// barrel has a radial term, decentred the terms of a lens that sits askew (as OpenCV names them).
func barrel(k1 float64) bending {
	return func(x, y float64) (u, v float64) {
		gain := 1 + k1*(x*x+y*y)
		return x * gain, y * gain
	}
}

func decentred(p1, p2 float64) bending {
	return func(x, y float64) (u, v float64) {
		r2 := x*x + y*y
		return x + 2*p1*x*y + p2*(r2+2*x*x), y + p1*(r2+2*y*y) + 2*p2*x*y
	}
}

// squeezed makes all wider.
func squeezed(by float64) bending {
	return func(x, y float64) (u, v float64) { return x * (1 + by), y }
}

// shows is what a pixel through the lens shows.
func (b bending) shows(px, py float64, size image.Point) (x, y float64) {
	half := math.Hypot(float64(size.X), float64(size.Y)) / 2
	cx, cy := float64(size.X-1)/2, float64(size.Y-1)/2
	u, v := (px-cx)/half, (py-cy)/half
	x, y = u, v
	for range 30 {
		atU, atV := b(x, y)
		x, y = x-(atU-u), y-(atV-v)
	}
	return x*half + cx, y*half + cy
}

// between is a picture's value at a place, bilinear, its rim held on to beyond it.
func between(p image.Image, x, y float64) color.RGBA {
	size := p.Bounds().Size()
	x, y = math.Min(math.Max(x, 0), float64(size.X-2)), math.Min(math.Max(y, 0), float64(size.Y-2))
	i, j := int(x), int(y)
	var sum [3]float64
	for k := range 4 {
		r, g, b, _ := p.At(i+k%2, j+k/2).RGBA()
		w := math.Abs(1-float64(k%2)-(x-float64(i))) * math.Abs(1-float64(k/2)-(y-float64(j)))
		for c, v := range []uint32{r, g, b} {
			sum[c] += w * float64(v) / 257
		}
	}
	return color.RGBA{uint8(sum[0] + 0.5), uint8(sum[1] + 0.5), uint8(sum[2] + 0.5), 255}
}

// through writes a photo as a lens would have taken it, its EXIF as it was, and answers with its path.
func (b bending) through(t *testing.T, path string) string {
	t.Helper()
	data, err := os.ReadFile(path)
	require.NoError(t, err)
	require.Equal(t, []byte{0xff, 0xd8, 0xff, 0xe1}, data[:4], "EXIF in front")
	segment := data[2 : 4+int(binary.BigEndian.Uint16(data[4:]))]
	straight, err := jpeg.Decode(bytes.NewReader(data))
	require.NoError(t, err)
	bent := image.NewRGBA(straight.Bounds())
	for y := range bent.Rect.Dy() {
		for x := range bent.Rect.Dx() {
			sx, sy := b.shows(float64(x), float64(y), bent.Rect.Size())
			bent.SetRGBA(x, y, between(straight, sx, sy))
		}
	}
	var out bytes.Buffer
	require.NoError(t, jpeg.Encode(&out, bent, &jpeg.Options{Quality: 95}))
	whole := append(append([]byte{0xff, 0xd8}, segment...), out.Bytes()[2:]...)
	to := filepath.Join(t.TempDir(), filepath.Base(path))
	require.NoError(t, os.WriteFile(to, whole, 0o600))
	return to
}

// A lens never seen is found by the frame's marks, and named. Where they settle how it bends lines the number
// is right, and passes; where they do not, there is no number, and nothing else is blamed.
func TestALensNeverSeenIsFound(t *testing.T) {
	if testing.Short() {
		t.Skip("half a minute of measuring")
	}
	read := readPresses(t)
	for _, row := range []struct {
		name    string
		bent    bending
		status  int
		verdict proof.Verdict
		said    string
	}{
		{"a barrel", barrel(-0.1), exitMeasured, proof.PassedLens, "bends lines more than a phone's own does"},
		{"squeezed", squeezed(0.02), exitReview, proof.Lens, "Do not trust this lens"},
		{"askew", decentred(0.01, 0.01), exitReview, proof.Lens, "Do not trust this lens"},
	} {
		t.Run(row.name, func(t *testing.T) {
			data := t.TempDir()
			args := []string{"--data", data, "--together", "--distance", fmt.Sprintf("%.2f", read.distance["pair"])}
			for _, path := range read.photos["pair"] {
				args = append(args, row.bent.through(t, path))
			}
			status, stdout, stderr := knownRun(t, args...)
			assert.Equal(t, row.status, status, stdout+stderr)
			assert.Contains(t, unwrapped(stdout), row.said)
			kept, err := store.KeptIn(t.Context(), data)
			require.NoError(t, err)
			require.Len(t, kept, 1)
			assert.Equal(t, row.verdict, kept[0].Verdict)
		})
	}
}
