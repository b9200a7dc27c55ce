package grain

import (
	"image"
	"math"
	"math/rand/v2"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"sitspan/imprint/geometry/raster"
)

// What a patch reads of a part is what it would read of the whole window, dots beside it included.
func TestAPartShowsWhatTheWholeDoes(t *testing.T) {
	random := rand.New(rand.NewPCG(51, 52))
	grey := image.NewGray(image.Rect(0, 0, 900, 600))
	for i := range grey.Pix {
		grey.Pix[i] = uint8(60 + random.IntN(120))
	}
	w := raster.Window{HalfWidth: 106, HalfHeight: 70, Sample: 0.25,
		Place: func(x, y float64) raster.Pixel { return raster.Pixel{X: 4*x + 450, Y: 4*y + 300} }}
	whole := raster.Of(grey, w)
	require.NotNil(t, whole)
	views := []View{{whole, 10, -20, 400}, {whole, 190, 40, 380}}
	var spots []Spot
	for range 200 {
		at := raster.Point{X: 200*random.Float64() - 100, Y: 130*random.Float64() - 65}
		spots = append(spots, Spot{at, 1 + random.Float64()})
	}
	for _, middle := range []raster.Point{{X: -58, Y: 3}, {X: 61, Y: -11}, {X: 95, Y: 60}} {
		var places []Place
		for range 30 {
			at := raster.Point{X: middle.X + 36*random.Float64() - 18, Y: middle.Y + 36*random.Float64() - 18}
			places = append(places, Place{At: at, Z: 10 * random.Float64()})
		}
		m := &matcher{views: views}
		parts := m.partsAt(places)
		for v, d := range detailsOf(parts, [][]Spot{spots, nil}) {
			assert.Less(t, len(d.v), 2*len(whole.Ln)/3)
			all := detailsOf(views, [][]Spot{spots, nil})[v]
			for _, p := range places {
				x, y := m.seenAt(v, &patch{x: p.At.X, y: p.At.Y}, plane{z: p.Z}, 0, 0)
				for _, o := range disc(BetweenRadius + 3) {
					got, inPart := d.at(x+o[0], y+o[1])
					want, inWhole := all.at(x+o[0], y+o[1])
					require.Equal(t, inWhole, inPart)
					require.InDelta(t, want, got, 1e-6*max(1, math.Abs(float64(want))), "view %d, %g %g", v, x+o[0], y+o[1])
				}
			}
		}
	}
}
