package intake

import (
	"image"
	"image/color"
	"testing"

	"github.com/stretchr/testify/assert"

	"sitspan/imprint/homography"
)

func TestCoveredFaceCannotBeRead(t *testing.T) {
	m := image.NewNRGBA(image.Rect(0, 0, 60, 40))
	for y := range 40 {
		for x := range 60 {
			m.Set(x, y, color.NRGBA{uint8(200 * (x % 2)), 0, 0, 255}) // writing
		}
	}
	cover(
		m,
		[4]homography.Pixel{{X: 19.5, Y: 19.5}, {X: 79.5, Y: 19.5}, {X: 79.5, Y: 59.5}, {X: 19.5, Y: 59.5}},
		0.5,
	)
	for y := range 40 {
		for x := range 60 {
			got := m.NRGBAAt(x, y).R
			if x >= 10 && x < 40 && y >= 10 && y < 30 { // (19.5 + 0.5) / 2 to (79.5 + 0.5) / 2
				assert.Equal(t, uint8(100), got, "the mean, at %d %d", x, y)
			} else {
				assert.Equal(t, uint8(200*(x%2)), got, "untouched, at %d %d", x, y)
			}
		}
	}
}
