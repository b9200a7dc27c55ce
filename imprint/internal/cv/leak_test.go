//go:build matprofile

package cv

import (
	"bytes"
	"image"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"gocv.io/x/gocv"
)

// No Mat stays open after a run, whatever way it ended. Run with
// -tags matprofile (and customenv where the build uses it).
func TestNoMatIsLeftOpen(t *testing.T) {
	open := gocv.NewMat()
	require.Equal(t, 1, gocv.MatProfile.Count(), "the count counts")
	open.Close()

	s := plainScene()
	img := s.draw()
	marks, _, err := FindMarks(img)
	require.NoError(t, err)
	requireMarks(t, marks, 12)
	s.withoutMarks = func(id int) bool { return id > 2 }
	for _, other := range []*image.Gray{s.draw(), mirrored(img), image.NewGray(image.Rect(0, 0, 0, 0)),
		image.NewGray(image.Rect(0, 0, 40, 40)), nil} {
		_, _, _ = FindMarks(other)
	}

	mx, my := grid(100, 100, 5.3, 3, 40, 30)
	_, err = Sample(img, mx, my, 40, 30)
	require.NoError(t, err)
	_, err = Sample(img, mx, my, 41, 30)
	require.Error(t, err)

	var left bytes.Buffer
	require.NoError(t, gocv.MatProfile.WriteTo(&left, 1))
	assert.Zero(t, gocv.MatProfile.Count(), left.String())
}
