package cv

import (
	"fmt"
	"image"
	"math"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

func TestZZZ(t *testing.T) {
	for _, c := range []struct {
		name  string
		scene func(*scene)
	}{{"plain", func(s *scene) {}}, {"bright", func(s *scene) { s.white, s.black = 235, 15 }}, {"small", func(s *scene) { s.pxPerMM = 1.6 }}, {"tiny", func(s *scene) { s.pxPerMM = 1.3 }}} {
		s := plainScene()
		s.turnDeg, s.noise = 11, 3
		c.scene(&s)
		img := s.draw()
		for _, a := range []float64{0, 0.5, 1, 2} {
			for _, r := range []float64{0.7, 1.5, 2.5} {
				for _, q := range []int{0, 85, 60} {
					marks, d, err := FindMarks(phone{amount: a, radius: r, quality: q}.spoil(t, img))
					require.NoError(t, err)
					px, z := s.cornerErrors(marks)
					fmt.Printf("%s a %.1f r %.1f q %d: %d marks unref %d blur %.2f shift %.3f(%.3f) px %.3f z %.2f u %.3f\n", c.name, a, r, q, len(marks), d.Unrefined, d.Blur, d.EdgeShift, d.EdgeShiftU, rms(px), rms(z), marks[0].U[0])
				}
			}
		}
	}
	_, _, _ = image.Rect, math.Abs, assert.Equal
}
