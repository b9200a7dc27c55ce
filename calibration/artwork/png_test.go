package artwork

import (
	"bytes"
	"encoding/binary"
	"image"
	"image/png"
	"math"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"sitspan/calibration"
)

// look is the grey value at a place in frame axes (mm).
func look(d *Drawing, picture *image.Gray, dpi, x, y float64) uint8 {
	scale := dpi / 25.4
	return picture.GrayAt(int((x+d.Origin.X)*scale), int((y+d.Origin.Y)*scale)).Y
}

func TestPNGShowsEveryModuleOfEveryMark(t *testing.T) {
	eachDrawing(t, func(t *testing.T, _ Options, d *Drawing) {
		const dpi = 150
		picture, err := d.Raster(dpi)
		require.NoError(t, err)
		for _, m := range calibration.ControlFrame.Marks {
			topLeft := m.Corners()[0]
			for row := range calibration.MarkModules {
				for column := range calibration.MarkModules {
					x := topLeft.X + (float64(column)+0.5)*calibration.Module
					y := topLeft.Y + (float64(row)+0.5)*calibration.Module
					want := uint8(255)
					if m.Black(row, column) {
						want = 0
					}
					assert.Equal(t, want, look(d, picture, dpi, x, y), "mark %d, module %d, %d", m.ID, row, column)
				}
			}
		}
	})
}

func TestPNGQuietZonesAreWhite(t *testing.T) {
	eachDrawing(t, func(t *testing.T, _ Options, d *Drawing) {
		const dpi = 150
		picture, err := d.Raster(dpi)
		require.NoError(t, err)
		pixel := 25.4 / dpi
		const reach = calibration.MarkSide / 2
		for _, m := range calibration.ControlFrame.Marks {
			for out := pixel; out < calibration.Module-pixel; out += pixel {
				for along := -reach - out; along <= reach+out; along += pixel {
					for _, side := range []float64{-1, 1} {
						far := side * (reach + out)
						require.Equal(t, uint8(255), look(d, picture, dpi, m.Centre.X+along, m.Centre.Y+far), "mark %d", m.ID)
						require.Equal(t, uint8(255), look(d, picture, dpi, m.Centre.X+far, m.Centre.Y+along), "mark %d", m.ID)
					}
				}
			}
		}
	})
}

// inkCentre is the centre of the ink, in mm, along the pixels from a to b of
// one row (or column, if down) of the picture.
func inkCentre(picture *image.Gray, scale, across, a, b float64, down bool) float64 {
	var sum, moment float64
	for i := int(a * scale); i <= int(b*scale); i++ {
		x, y := i, int(across*scale)
		if down {
			x, y = y, x
		}
		ink := 255 - float64(picture.GrayAt(x, y).Y)
		sum += ink
		moment += ink * (float64(i) + 0.5)
	}
	return moment / sum / scale
}

func TestPNGBarsMeasure200And150MillimetresBetweenEndLines(t *testing.T) {
	eachDrawing(t, func(t *testing.T, _ Options, d *Drawing) {
		picture, err := d.Raster(DefaultDPI)
		require.NoError(t, err)
		const scale = DefaultDPI / 25.4
		frame := calibration.ControlFrame
		row := frame.BarX.From.Y + d.Origin.Y + 1 // crosses the end lines below the bar
		left := inkCentre(picture, scale, row, d.Origin.X-101, d.Origin.X-99, false)
		right := inkCentre(picture, scale, row, d.Origin.X+99, d.Origin.X+101, false)
		column := frame.BarY.From.X + d.Origin.X + 1
		top := inkCentre(picture, scale, column, d.Origin.Y-76, d.Origin.Y-74, true)
		bottom := inkCentre(picture, scale, column, d.Origin.Y+74, d.Origin.Y+76, true)
		// An edge's coverage has 8 bits, and an end line has four partly covered
		// pixels at most; 1/16 px is ample for both ends together, and a
		// twentieth of the 0.05 % to which a print's scale is to be found.
		const tolerance = 1.0 / 16 / scale
		assert.InDelta(t, 200, right-left, tolerance)
		assert.InDelta(t, 150, bottom-top, tolerance)
	})
}

func TestPNGEdgesLieWithinASixteenthOfAPixel(t *testing.T) {
	d, err := Draw(calibration.ControlFrame, Options{})
	require.NoError(t, err)
	picture, err := d.Raster(DefaultDPI)
	require.NoError(t, err)
	const scale = DefaultDPI / 25.4
	for _, m := range calibration.ControlFrame.Marks {
		// along the middle of the top border the ink is one unbroken run
		y := m.Centre.Y - calibration.MarkSide/2 + calibration.Module/2 + d.Origin.Y
		from, to := m.Centre.X-11+d.Origin.X, m.Centre.X+11+d.Origin.X
		var ink float64
		for i := int(from * scale); i <= int(to*scale); i++ {
			ink += 1 - float64(picture.GrayAt(i, int(y*scale)).Y)/255
		}
		assert.InDelta(t, calibration.MarkSide*scale, ink, 2.0/16, "mark %d's side in px", m.ID)
		assert.InDelta(t, m.Centre.X+d.Origin.X, inkCentre(picture, scale, y, from, to, false), 1.0/16/scale)
	}
}

func TestPNGStatesItsDensityAndDecodes(t *testing.T) {
	cases := []struct {
		dpi      float64
		perMetre uint32
		size     image.Point
	}{ // by hand: dpi / 0.0254 rounded; 297 and 210 mm rounded up to whole px
		{300, 11811, image.Pt(3508, 2481)},
		{150, 5906, image.Pt(1754, 1241)},
	}
	d, err := Draw(calibration.ControlFrame, Options{})
	require.NoError(t, err)
	for _, c := range cases {
		var out bytes.Buffer
		require.NoError(t, d.WritePNG(&out, c.dpi))
		chunk := out.Bytes()[8+25:]
		assert.Equal(t, uint32(9), binary.BigEndian.Uint32(chunk))
		assert.Equal(t, "pHYs", string(chunk[4:8]))
		assert.Equal(t, c.perMetre, binary.BigEndian.Uint32(chunk[8:]))
		assert.Equal(t, c.perMetre, binary.BigEndian.Uint32(chunk[12:]))
		assert.Equal(t, byte(1), chunk[16], "per metre")
		picture, err := png.Decode(&out) // checks every chunk's CRC
		require.NoError(t, err)
		assert.Equal(t, c.size, picture.Bounds().Size())
	}
}

func TestPNGTextIsWhereItsWidthSays(t *testing.T) {
	const dpi = 300
	for _, upward := range []bool{false, true} {
		text := Text{At: calibration.Point{X: 20, Y: 20}, Size: 6, Upward: upward, String: "HHH"}
		d := &Drawing{Width: 40, Height: 40, Texts: []Text{text}}
		picture, err := d.Raster(dpi)
		require.NoError(t, err)
		ink := box{math.Inf(1), math.Inf(1), math.Inf(-1), math.Inf(-1)}
		for y := range picture.Rect.Dy() {
			for x := range picture.Rect.Dx() {
				if picture.GrayAt(x, y).Y < 128 {
					fx, fy := float64(x)*25.4/dpi, float64(y)*25.4/dpi
					ink = box{min(ink.x0, fx), min(ink.y0, fy), max(ink.x1, fx+25.4/dpi), max(ink.y1, fy+25.4/dpi)}
				}
			}
		}
		long, high := ink.x1-ink.x0, ink.y1-ink.y0
		if upward {
			long, high = high, long
			assert.InDelta(t, 20, ink.x1, 25.4/dpi, "stands on its baseline, to the left of it")
			assert.Less(t, ink.y1, 20.0)
		} else {
			assert.InDelta(t, 20, ink.y1, 25.4/dpi, "stands on its baseline")
			assert.Greater(t, ink.x0, 20.0)
		}
		assert.InDelta(t, capHeight*6, high, 25.4/dpi)
		assert.Less(t, long, text.width())
		assert.Greater(t, long, text.width()*0.9)
	}
}

func TestRasterRefusesAbsurdDensities(t *testing.T) {
	d, err := Draw(calibration.ControlFrame, Options{})
	require.NoError(t, err)
	for _, dpi := range []float64{0, -300, 72, 5000, math.NaN(), math.Inf(1)} {
		_, err := d.Raster(dpi)
		assert.ErrorContains(t, err, "100 to 600", "%v", dpi)
	}
}
