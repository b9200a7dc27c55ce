package imprint_test

import (
	"bufio"
	"context"
	"encoding/csv"
	"encoding/json"
	"math"
	"os"
	"path/filepath"
	"strconv"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"sitspan/calibration"
	"sitspan/imprint"
	"sitspan/imprint/codes"
	"sitspan/imprint/geometry"
	"sitspan/imprint/photo"
)

const dottedFolder = "../testdata/photos/dotted"

// dottedPhotos are the bundled photos of one imprint in a dotted pad, from above and from either side, and
// the true distance in mm.
func dottedPhotos(t *testing.T) (photos []*photo.Photo, spacing float64) {
	t.Helper()
	truth, err := os.Open(filepath.Join(dottedFolder, "truth.jsonl"))
	require.NoError(t, err)
	defer truth.Close()
	for lines := bufio.NewScanner(truth); lines.Scan(); {
		var one struct {
			Name    string  `json:"name"`
			Spacing float64 `json:"spacing_mm"`
		}
		require.NoError(t, json.Unmarshal(lines.Bytes(), &one))
		data, err := os.ReadFile(filepath.Join(dottedFolder, one.Name))
		require.NoError(t, err)
		p, err := photo.Decode(data, one.Name, photo.Limits{})
		require.NoError(t, err)
		photos, spacing = append(photos, p), one.Spacing
	}
	require.Len(t, photos, 3)
	return photos, spacing
}

func newMeter(t *testing.T) *imprint.Meter {
	t.Helper()
	m := imprint.NewMeter()
	t.Cleanup(func() { assert.NoError(t, m.Close()) })
	return m
}

// Of a body in a firm pad, whose dents are broad and hardly 4 mm deep, the geometry of the dots finds the
// distance.
func TestADottedPadIsMeasuredByGeometry(t *testing.T) {
	photos, truth := dottedPhotos(t)
	m, err := newMeter(t).MeasureTogether(context.Background(), photos, imprint.Settings{})
	require.NoError(t, err)
	require.Equal(t, imprint.Measured, m.Status, m.Reasons)
	u, _ := m.Expanded()
	assert.InDelta(t, truth, m.Spacing.Value, u)
	assert.Less(t, u, 1.5)
	require.NotNil(t, m.Relief)
	assert.Equal(t, geometry.Dots, m.Relief.By)
	assert.Equal(t, calibration.Foam, m.Medium, "told without being said")
	for _, p := range m.Parts {
		assert.True(t, p.Used)
		assert.Greater(t, p.Points, 200)
		require.Len(t, p.Measurement.Reasons, 1)
		assert.True(t, codes.OnePhotoOfDots.Is(p.Measurement.Reasons[0]), "by itself it would ask for another")
		assert.NotEqual(t, imprint.Measured, p.Measurement.Status)
	}
	assert.Len(t, m.Relief.Checks.Marks, 2)
	assert.Less(t, m.Relief.Checks.MarkRMS, 0.1, "mm, of marks that took no part")
	assert.Positive(t, m.Relief.Checks.MarkRMS)
}

// The heights of the whole window are right to what the docs claim, once the tilt of the frame on the pad is
// taken off.
func TestADottedPadsHeightsAreRight(t *testing.T) {
	photos, _ := dottedPhotos(t)
	m, err := newMeter(t).MeasureTogether(context.Background(), photos, imprint.Settings{})
	require.NoError(t, err)
	require.NotNil(t, m.Relief)
	file, err := os.Open(filepath.Join(dottedFolder, "heights.csv"))
	require.NoError(t, err)
	defer file.Close()
	rows, err := csv.NewReader(file).ReadAll()
	require.NoError(t, err)
	g := m.Relief.Grid
	var fit plane
	for j, row := range rows {
		for i, cell := range row {
			want, err := strconv.ParseFloat(cell, 64)
			require.NoError(t, err)
			x, y := 2*float64(i)-104, 2*float64(j)-68
			if math.Abs(x) > 96 || math.Abs(y) > 60 {
				continue // the card's edge hides and shades there
			}
			at := (j+(g.Rows-69)/2)*g.Columns + i + (g.Columns-105)/2
			fit.add(x/100, y/100, g.Z[at]-want)
		}
	}
	assert.Less(t, fit.rms(), 0.15, "mm")
}

// plane gathers differences, and says how far they are off the plane through them.
type plane struct{ at [][3]float64 }

func (p *plane) add(x, y, d float64) { p.at = append(p.at, [3]float64{x, y, d}) }

func (p *plane) rms() float64 {
	var c [3]float64 // by a few turns of Gauss and Seidel: x and y are centred and of like size
	for range 50 {
		for k := range 3 {
			top, bottom := 0.0, 0.0
			for _, q := range p.at {
				g := [3]float64{1, q[0], q[1]}
				top += g[k] * (q[2] - c[0] - c[1]*q[0] - c[2]*q[1] + c[k]*g[k])
				bottom += g[k] * g[k]
			}
			c[k] = top / bottom
		}
	}
	sum := 0.0
	for _, q := range p.at {
		sum += math.Pow(q[2]-c[0]-c[1]*q[0]-c[2]*q[1], 2)
	}
	return math.Sqrt(sum / float64(len(p.at)))
}

// One photo of dots asks for another from the side, whatever the nets make of them.
func TestOnePhotoOfADottedPadAsksForAnother(t *testing.T) {
	photos, _ := dottedPhotos(t)
	m, err := newMeter(t).Measure(context.Background(), photos[0], imprint.Settings{})
	require.NoError(t, err)
	require.Len(t, m.Reasons, 1)
	assert.Equal(t, codes.OnePhotoOfDots.Code, m.Reasons[0].Code)
	assert.NotEqual(t, imprint.Measured, m.Status)
}

// A photo of another imprint among those of a dotted pad is left out, and said so.
func TestAStrangerAmongDottedPhotosIsLeftOut(t *testing.T) {
	photos, truth := dottedPhotos(t)
	data, err := os.ReadFile("../testdata/photos/together/above.jpg")
	require.NoError(t, err)
	stranger, err := photo.Decode(data, "stranger.jpg", photo.Limits{})
	require.NoError(t, err)
	m, err := newMeter(t).MeasureTogether(context.Background(), []*photo.Photo{photos[0], photos[1], stranger},
		imprint.Settings{Medium: calibration.Foam})
	require.NoError(t, err)
	require.NotNil(t, m.Relief)
	u, _ := m.Expanded()
	assert.InDelta(t, truth, m.Spacing.Value, u)
	assert.False(t, m.Parts[2].Used)
	assert.Equal(t, codes.OtherDots.Code, m.Parts[2].Why.Code)
}

// Photos whose dots do not match are no measurement, whatever the nets read: neither two imprints, nor one
// photo of dots beside one of a plain pad, which is then measured alone.
func TestDotsThatDoNotMatchAreNoReading(t *testing.T) {
	photos, _ := dottedPhotos(t)
	meter := newMeter(t)
	other, err := os.ReadFile("../testdata/known/dotted-ball-1.jpg")
	require.NoError(t, err)
	second, err := photo.Decode(other, "other.jpg", photo.Limits{})
	require.NoError(t, err)
	m, err := meter.MeasureTogether(context.Background(), []*photo.Photo{photos[0], second}, imprint.Settings{})
	require.NoError(t, err)
	assert.Equal(t, imprint.Refused, m.Status)
	require.NotEmpty(t, m.Reasons)
	assert.Equal(t, codes.UnmatchedDots.Code, m.Reasons[0].Code)
	plain, err := os.ReadFile("../testdata/photos/foam-window.jpg")
	require.NoError(t, err)
	third, err := photo.Decode(plain, "plain.jpg", photo.Limits{})
	require.NoError(t, err)
	m, err = meter.MeasureTogether(context.Background(), []*photo.Photo{photos[0], third}, imprint.Settings{})
	require.NoError(t, err)
	require.False(t, m.Parts[0].Used)
	assert.Equal(t, codes.OnePhotoOfDots.Code, m.Parts[0].Measurement.Reasons[0].Code)
	require.Equal(t, imprint.Review, m.Status, "two pads are two imprints: whose is it?")
	assert.True(t, codes.PhotosOfOtherPads.Is(m.Reasons[0]), m.Reasons)
	m, err = meter.MeasureTogether(t.Context(), []*photo.Photo{bundled(t, "together/above.jpg"),
		bundled(t, "together/side-1.jpg"), photos[0]}, imprint.Settings{})
	require.NoError(t, err)
	require.Equal(t, imprint.Review, m.Status, "nor do two photos of a plain pad say whose the dotted one is")
}

// Foam and marking paper in one joint measurement are two imprints; two photos of one are not outvoted.
func TestPhotosOfTwoMediaAreNotOneImprint(t *testing.T) {
	meter := newMeter(t)
	foam, paper := bundled(t, "foam-window.jpg"), bundled(t, "paper-1.jpg")
	m, err := meter.MeasureTogether(t.Context(), []*photo.Photo{foam, paper}, imprint.Settings{})
	require.NoError(t, err)
	require.Equal(t, imprint.Review, m.Status)
	assert.True(t, codes.PhotosOfOtherPads.Is(m.Reasons[0]), m.Reasons)
	m, err = meter.MeasureTogether(t.Context(), []*photo.Photo{bundled(t, "together/above.jpg"),
		bundled(t, "together/side-1.jpg"), paper}, imprint.Settings{})
	require.NoError(t, err)
	assert.Equal(t, imprint.Measured, m.Status, m.Reasons)
	assert.False(t, m.Parts[2].Used)
}
