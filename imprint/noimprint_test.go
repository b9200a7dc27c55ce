package imprint

import (
	"context"
	"image"
	"image/color"
	"image/draw"
	"math"
	"testing"

	"github.com/disintegration/imaging"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"sitspan/imprint/codes"
	"sitspan/imprint/judge"
	"sitspan/imprint/photo"
)

// instead is a photo with a card in which something else lies where the marks were: squares of a board, side
// px wide, as soft as sigma px.
func instead(t *testing.T, one besideTruth, side int, sigma float64) *photo.Photo {
	t.Helper()
	img := imaging.Clone(read(t, one.Name).Colour(5000))
	l, r := one.LeftPx, one.RightPx
	apart := math.Hypot(r[0]-l[0], r[1]-l[1])
	mid := image.Pt(int(l[0]+r[0])/2, int(l[1]+r[1])/2)
	area := image.Rect(-int(apart)/2-130, -280, int(apart)/2+130, 280).Add(mid) // clear of the card
	patch := imaging.New(area.Dx(), area.Dy(), img.At(mid.X, mid.Y))
	for _, at := range []float64{-0.5, 0.5} {
		c := image.Pt(patch.Rect.Dx()/2+int(at*apart), patch.Rect.Dy()/2)
		square := image.Rect(-side/2, -side/2, side/2, side/2).Add(c)
		draw.Draw(patch, square, image.NewUniform(color.Gray{40}), image.Point{}, draw.Src)
	}
	if sigma > 0 {
		patch = imaging.Blur(patch, sigma)
	}
	return encode(t, imaging.Paste(img, patch, area.Min))
}

func cardPhoto(t *testing.T) besideTruth {
	t.Helper()
	for _, one := range besideTruths(t) {
		if one.Name == "card-1.jpg" {
			return one
		}
	}
	t.Fatal("no card-1.jpg")
	return besideTruth{}
}

// Two things with hard edges beside a card are no imprint, wherever they lie; the same two as soft as ink is
// are read.
func TestThingsBesideACardAreNoImprint(t *testing.T) {
	m, one := meter(t), cardPhoto(t)
	pxPerMM := math.Hypot(one.RightPx[0]-one.LeftPx[0], one.RightPx[1]-one.LeftPx[1]) / one.Spacing
	side := int(24 * pxPerMM)

	got, err := m.Measure(context.Background(), instead(t, one, side, 0), Settings{})
	require.NoError(t, err)
	assert.Nil(t, got.Spacing)
	assert.Equal(t, Refused, got.Status)
	require.NotEmpty(t, got.Reasons)
	assert.Equal(t, codes.HardEdges.With(), got.Reasons[0])

	got, err = m.Measure(context.Background(), instead(t, one, side, 6*pxPerMM), Settings{})
	require.NoError(t, err)
	require.NotNil(t, got.Spacing, "%v", got.Reasons)
	u, _ := got.Expanded()
	assert.InDelta(t, one.Spacing, got.Spacing.Value, u)
}

// Without the frame nothing but the two marks says that this is an imprint: where they cannot be placed there
// is no number. With the frame the same reading is for review.
func TestNoNumberWithoutFrameAndMarks(t *testing.T) {
	wide := func(framed bool) *sight {
		v := vagueReading(t)
		if !framed {
			v.m.Plane = nil
		}
		v.conclude(Settings{Medium: v.m.Medium})
		return v
	}
	v := wide(true)
	require.NotNil(t, v.m.Spacing, "%v", v.m.Reasons)
	assert.Equal(t, Review, v.m.Status)
	v = wide(false)
	assert.Nil(t, v.m.Spacing)
	assert.Equal(t, Refused, v.m.Status)
	require.Len(t, v.m.Reasons, 1)
	assert.True(t, codes.NoDent.Is(v.m.Reasons[0]))
	assert.Equal(t, "no_imprint", v.m.Reasons[0].Form)
	assert.Equal(t, judge.WidestInterval.Value, v.m.Reasons[0].Params["limit"])
}

// vagueReading is a scan of ink whose centres are known to some 5 mm each only.
func vagueReading(t *testing.T) *sight {
	t.Helper()
	p := read(t, "scan-1.jpg")
	v, err := meter(t).look(context.Background(), p, Settings{})
	require.NoError(t, err)
	require.True(t, v.read)
	v.reading.Left.VarX, v.reading.Right.VarX, v.reading.VarSpacing = 25, 25, 50
	v.byInk = false
	v.photo.Density = &photo.Density{X: scanDPI / 25.4, Y: scanDPI / 25.4, Source: "test"}
	return v
}
