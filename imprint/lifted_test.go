package imprint

import (
	"context"
	"image"
	"math"
	"testing"

	"github.com/disintegration/imaging"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"sitspan/calibration"
	"sitspan/imprint/codes"
	"sitspan/imprint/photo"
	"sitspan/imprint/reading"
	"sitspan/imprint/relief"
)

// lifted is a photo whose phone lifted the shadows: each pixel a fifth as much toward the middle as what lies
// around it, over a thirtieth of the longer side.
func lifted(t *testing.T, p *photo.Photo) *photo.Photo {
	t.Helper()
	const small = 8
	grey := p.Grey()
	w, h := grey.Rect.Dx(), grey.Rect.Dy()
	around := imaging.Blur(imaging.Resize(grey, w/small, h/small, imaging.Box), float64(max(w, h))/30/small)
	around = imaging.Resize(around, w, h, imaging.Linear)
	out := image.NewGray(grey.Rect)
	for i, v := range grey.Pix {
		level := float64(v) + 0.2*(127.5-float64(around.Pix[i/w*around.Stride+i%w*4]))
		out.Pix[i] = uint8(math.Max(0, math.Min(255, level+0.5)))
	}
	return encode(t, out)
}

// centresOf are what the net reads of a photo's window as the photo shows it and without its tone, mm apart.
func (m *Meter) centresOf(t *testing.T, p *photo.Photo) (as, without float64, tone bool) {
	t.Helper()
	v, err := m.lookBefore(context.Background(), p, Settings{Medium: calibration.Foam})
	require.NoError(t, err)
	require.NotNil(t, v.toPixel)
	local := reading.ToneOf(v.grey, v.toPixel)
	view := reading.ViewOf(v.m.Plane.Camera)
	raw, err := reading.Rectify(v.grey, v.below(view), view, nil)
	require.NoError(t, err)
	plain, err := v.rectifyBelow(v.grey, view, false)
	require.NoError(t, err)
	return m.distanceIn(t, raw), m.distanceIn(t, plain), local != nil
}

func (m *Meter) distanceIn(t *testing.T, w relief.Window) float64 {
	t.Helper()
	r, _, err := m.nets.Read(w, calibration.Foam)
	require.NoError(t, err)
	return r.Distance()
}

// What is bundled without local tone shows none, so its reading stays what it was.
func TestPlainPhotosShowNoTone(t *testing.T) {
	m := meter(t)
	for _, one := range truths(t) {
		if one.Kind == "foam" {
			as, without, tone := m.centresOf(t, read(t, one.Name))
			assert.False(t, tone, one.Name)
			assert.Equal(t, as, without, one.Name)
		}
	}
}

// Lifted shadows move what the net reads on these pads by 0.3 to 1.8 mm. Without the tone it moves less by a
// third at least, taken together.
func TestALiftedPhotoReadsMoreAsBefore(t *testing.T) {
	m := meter(t)
	var moved, left float64
	for _, name := range []string{"foam-window.jpg", "../known/bell-2.jpg", "../known/bell-4.jpg"} {
		p := encode(t, read(t, name).Grey())
		before, _, _ := m.centresOf(t, p)
		as, without, tone := m.centresOf(t, lifted(t, p))
		assert.True(t, tone, name)
		moved += (as - before) * (as - before)
		left += (without - before) * (without - before)
	}
	require.Greater(t, math.Sqrt(moved/3), 0.5, "mm: the pads are such as lifted shadows move")
	assert.Less(t, math.Sqrt(left/moved), 2./3)
}

// A number that a tone was taken off says so where its centres' uncertainty comes from; another does not.
func TestANumberSaysThatAToneWasTakenOff(t *testing.T) {
	m := meter(t)
	p := encode(t, read(t, "foam-window.jpg").Grey())
	from := func(photos ...*photo.Photo) (kinds []codes.Said) {
		got, err := m.MeasureTogether(t.Context(), photos, Settings{Medium: calibration.Foam})
		require.NoError(t, err)
		require.NotNil(t, got.Spacing, got.Reasons)
		for _, c := range got.Spacing.Budget {
			if c.Source == codes.LeftCentre.Code {
				kinds = append(kinds, c.From)
			}
		}
		return kinds
	}
	assert.Equal(t, []codes.Said{codes.ReadingsOwn.With(1)}, from(p))
	assert.Equal(t, []codes.Said{codes.WithoutTone.With(1)}, from(lifted(t, p)))
	above, side := read(t, "together/above.jpg"), lifted(t, read(t, "together/side-1.jpg"))
	assert.Equal(t, []codes.Said{codes.ReadTogether.With(2, codes.WithoutTone.With(1))}, from(above, side),
		"of photos read together one is enough")
}

// With an empty pad's photo the tone of both goes, since both have it.
func TestABlankTakesTheToneAlong(t *testing.T) {
	p := encode(t, read(t, "../known/bell-4.jpg").Grey())
	v, err := meter(t).lookBefore(context.Background(), lifted(t, p), Settings{Medium: calibration.Foam})
	require.NoError(t, err)
	view := reading.ViewOf(v.m.Plane.Camera)
	as, err := v.rectifyBelow(v.grey, view, true)
	require.NoError(t, err)
	raw, err := reading.Rectify(v.grey, v.below(view), view, nil)
	require.NoError(t, err)
	assert.Equal(t, raw, as)
	without, err := v.rectifyBelow(v.grey, view, false)
	require.NoError(t, err)
	assert.NotEqual(t, raw.Light, without.Light)
	assert.NotEqual(t, raw.Frame, without.Frame, "the light on the frame, too")
}
