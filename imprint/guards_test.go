package imprint

import (
	"context"
	"math"
	"testing"

	"github.com/disintegration/imaging"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"sitspan/calibration"
	"sitspan/imprint/codes"
	"sitspan/imprint/judge"
	"sitspan/imprint/photo"
)

// A mirrored picture is told so, of every medium; left and right would change places in it.
func TestAMirroredPictureIsToldSo(t *testing.T) {
	m := meter(t)
	for _, name := range []string{"foam-window.jpg", "paper-1.jpg", "scan-1.jpg"} {
		img := read(t, name).Colour(1 << 14)
		got, err := m.Measure(context.Background(), encode(t, imaging.FlipH(img)), Settings{})
		require.NoError(t, err)
		require.Equal(t, Refused, got.Status, name)
		require.Len(t, got.Reasons, 1, name)
		assert.Equal(t, codes.Mirrored.Key(), got.Reasons[0].Key(), name)
		assert.GreaterOrEqual(t, got.Reasons[0].Params["marks"], judge.LeastMarks.Value, name)
		back, err := m.Measure(context.Background(), encode(t, imaging.Rotate180(img)), Settings{})
		require.NoError(t, err)
		assert.NotContains(t, codesOf(back), codes.Mirrored.Code, "%s turned round is not mirrored", name)
	}
}

// A depth typed in centimetres, or another rider's, goes to review; a gauge that agrees does not.
func TestAGaugeThatContradictsThePhotoIsReviewed(t *testing.T) {
	m := meter(t)
	for _, one := range truths(t) {
		if one.Kind != "foam" {
			continue
		}
		l, r := one.Depth[0], one.Depth[1]
		for _, c := range []struct {
			mm   []float64
			want bool
		}{
			{[]float64{math.Round(l), math.Round(r)}, false},
			{[]float64{math.Round(l) / 10, math.Round(r) / 10}, true},
			{[]float64{math.Round(l), math.Round(r) / 10}, true},
		} {
			s := Settings{Medium: calibration.Foam, DepthMM: c.mm}
			got, err := m.Measure(context.Background(), read(t, one.Name), s)
			require.NoError(t, err)
			assert.Equal(t, c.want, contains(got, codes.GaugeContradicts), "%s %v", one.Name, c.mm)
			if c.want {
				assert.Equal(t, Review, got.Status)
				assert.NotNil(t, got.Spacing, "a review has its number")
			}
		}
	}
}

// Several photos say by their lines of sight how deep the dents are.
func TestAGaugeThatContradictsSeveralPhotosIsReviewed(t *testing.T) {
	m := meter(t)
	var photos []*photo.Photo
	for _, name := range []string{"together/above.jpg", "together/side-1.jpg", "together/side-2.jpg"} {
		photos = append(photos, read(t, name))
	}
	without, err := m.MeasureTogether(context.Background(), photos, Settings{Medium: calibration.Foam})
	require.NoError(t, err)
	for times, want := range map[float64]bool{1: false, 0.1: true} {
		s := Settings{Medium: calibration.Foam, DepthMM: []float64{
			times * without.Left.Depth, times * without.Right.Depth}}
		got, err := m.MeasureTogether(context.Background(), photos, s)
		require.NoError(t, err)
		assert.Equal(t, want, contains(got, codes.GaugeContradicts), "times %g: %v", times, codesOf(got))
	}
}

func contains(m *Measurement, e *codes.Entry) bool {
	for _, r := range m.Reasons {
		if e.Is(r) {
			return true
		}
	}
	return false
}

// Of a picture that was cropped by hand nobody knows where the lens looked straight, nor how much it saw.
func TestACroppedPictureLeavesTheCamerasPlaceOpen(t *testing.T) {
	m := meter(t)
	img := read(t, "foam-window.jpg").Colour(1 << 14)
	b := img.Bounds()
	cut := imaging.Crop(img, b.Intersect(b.Add(b.Size().Div(50))))
	of := func(p *photo.Photo, doubts ...photo.FocalDoubt) *Measurement {
		p.Focal35, p.FocalDoubts = 26, doubts
		got, err := m.Measure(context.Background(), p, Settings{Medium: calibration.Foam})
		require.NoError(t, err)
		require.NotNil(t, got.Plane)
		return got
	}
	whole, cropped := of(encode(t, img)), of(encode(t, cut), photo.FocalNoCamera)
	assert.NotContains(t, warned(whole), codes.FocalUnknown.Code)
	assert.Contains(t, warned(cropped), codes.FocalUnknown.Code)
	unchecked := of(encode(t, cut), photo.FocalUnchecked) // the focal length is as open, the middle is not
	u := func(m *Measurement, axis int) float64 { return math.Sqrt(m.Plane.Camera.Covariance[axis][axis]) }
	assert.Greater(t, u(cropped, 2), 3*u(whole, 2), "height: 25 % against 4 % of the focal length")
	for axis, what := range []string{"x", "y"} {
		t.Log(what, u(whole, axis), u(unchecked, axis), u(cropped, axis))
		assert.Greater(t, u(cropped, axis), u(unchecked, axis), what)
	}
}
