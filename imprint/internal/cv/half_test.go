package cv

import (
	"image"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// A large picture is searched through its half: marks of 25 px, a 240th of its long side, are found there,
// and measured in the picture itself. The reference for their corners is the drawing's camera.
func TestSmallMarksAreFoundInALargePicture(t *testing.T) {
	s := plainScene()
	s.w, s.h, s.pxPerMM, s.blur = 380, 280, 1.25, 0.6
	drawn := s.draw()
	img := image.NewGray(image.Rect(0, 0, 6000, 400))
	for i := range img.Pix {
		img.Pix[i] = byte(s.table)
	}
	const left, top = 4001, 61 // odd, so that no pixel of the half is a block of the drawing's own
	for y := range s.h {
		copy(img.Pix[(top+y)*img.Stride+left:], drawn.Pix[y*drawn.Stride:][:s.w])
	}
	marks, d, err := FindMarks(img)
	require.NoError(t, err)
	require.Len(t, marks, 12)
	assert.Equal(t, 2.0, d.Reduction, "the second look's")
	for i := range marks {
		for k := range marks[i].Corners {
			marks[i].Corners[k].X -= left
			marks[i].Corners[k].Y -= top
		}
	}
	px, _ := s.cornerErrors(marks)
	assert.Less(t, rms(px), 0.5)
}
