package child

import (
	"bytes"
	"image/jpeg"
	"os"
	"path/filepath"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"sitspan/cmd/sitspan/internal/record"
	"sitspan/cmd/sitspan/internal/worker"
)

const photos = "../../../../testdata/photos/"

// One photo gives the same record by either form of a job: a file's, as the audit asks, or a sitting's,
// as the desk.
func TestBothFormsOfAJobGiveOneRecord(t *testing.T) {
	measure, err := Open(worker.Settings{})
	require.NoError(t, err)
	path := photos + "foam-window.jpg"
	thumb := filepath.Join(t.TempDir(), "thumb.jpg")
	file := measure(worker.Job{Path: []byte(path), Thumbnail: thumb})
	require.Empty(t, file.OverlayError)
	assert.FileExists(t, thumb)
	assert.NotEmpty(t, file.Fingerprint)

	sitting := measure(worker.Job{
		Sittings: [][]worker.Photo{{{Path: path, Name: "imprint of today.jpg"}}},
		Draw: []worker.Drawing{{Name: "a", Side: 300}, {Name: "b", Side: 400, Lang: "de"},
			{Name: "c", Side: 9, Lang: "xx"}},
	})
	require.Empty(t, sitting.Error)
	require.Equal(t, record.Measured, sitting.Record.Measurement.Status)
	assert.Equal(t, *file.Record.Measurement.Spacing, *sitting.Record.Measurement.Spacing)
	assert.Equal(t, "imprint of today.jpg", sitting.Record.Measurement.Photo)
	assert.Equal(t, "imprint of today.jpg", sitting.Record.Photos[0].Name)
	require.Len(t, sitting.Pictures, 2, "a language that there is none of is not drawn")
	img, err := jpeg.Decode(bytes.NewReader(sitting.Pictures["a"]))
	require.NoError(t, err)
	assert.Equal(t, 300, max(img.Bounds().Dx(), img.Bounds().Dy()))
	assert.Nil(t, sitting.Covered, "there is no card")
}

func TestJobsThatAreNone(t *testing.T) {
	measure, err := Open(worker.Settings{MaxPixels: 1000})
	require.NoError(t, err)
	two := []worker.Photo{{Path: "a"}, {Path: "b"}}
	for name, job := range map[string]worker.Job{
		"no photo":        {Sittings: [][]worker.Photo{{}}},
		"by hand of two":  {Sittings: [][]worker.Photo{two}, Hand: &worker.HandScale{}},
		"bare of nothing": {Sittings: [][]worker.Photo{{{Path: "/nowhere.jpg"}}}, Bare: true},
	} {
		assert.NotEmpty(t, measure(job).Error, name)
	}
	a := measure(worker.Job{Sittings: [][]worker.Photo{{{Path: photos + "foam-window.jpg"}}}})
	assert.Equal(t, "too_many_pixels", a.Record.Measurement.Reasons[0].Code, "the limits go along")
	_, err = Open(worker.Settings{Shop: "/nowhere.yaml"})
	assert.ErrorIs(t, err, os.ErrNotExist)
}
