package reading

import (
	"image"
	"math"

	"sitspan/calibration"
	"sitspan/imprint/homography"
	"sitspan/imprint/relief"
	"sitspan/imprint/tone"
)

const (
	whiteStep  = 3.0 // mm between the spots of white
	clearOf    = 4.0 // mm that they keep from the card's edges, the window's, and the marks
	whiteApart = 0.7 // mm between the 5 x 5 places of a spot of white
	blackApart = 0.5 // mm between the 3 x 3 places of a black module
	windowStep = 10  // every so many cells of the window tell what surrounds it
)

// ToneOf is the local tone that the frame's white and black show, nil where they show none beyond doubt.
func ToneOf(grey *image.Gray, place func(relief.Point) homography.Pixel) *tone.Tone {
	at := func(x, y float64) tone.Pixel { return tone.Pixel(place(relief.Point{X: x, Y: y})) }
	c := tone.Card{White: whiteSpots(at), Black: blackSpots(at)}
	c.PxPerMM = homography.Pixel(at(-1, 0)).Distance(homography.Pixel(at(1, 0))) / 2
	for i := 0; i < relief.Cells; i += windowStep {
		c.Window = append(c.Window, tone.Pixel(place(relief.At(i))))
	}
	return tone.Find(grey, c)
}

// whiteSpots lie on the card, clear of its edges and marks. The frame's own words are among them.
func whiteSpots(at func(x, y float64) tone.Pixel) (spots []tone.Spot) {
	f := calibration.ControlFrame
	for y := -f.Outer.Height/2 + clearOf; y <= f.Outer.Height/2-clearOf; y += whiteStep {
		for x := -f.Outer.Width/2 + clearOf; x <= f.Outer.Width/2-clearOf; x += whiteStep {
			inWindow := math.Abs(x) < f.Window.Width/2+clearOf && math.Abs(y) < f.Window.Height/2+clearOf
			if !inWindow && clearOfMarks(x, y) {
				spots = append(spots, spotAt(x, y, 2, whiteApart, at))
			}
		}
	}
	return spots
}

func clearOfMarks(x, y float64) bool {
	for _, m := range calibration.ControlFrame.Marks {
		off := math.Max(math.Abs(x-m.Centre.X), math.Abs(y-m.Centre.Y))
		if off < calibration.MarkSide/2+clearOf {
			return false
		}
	}
	return true
}

// blackSpots are the black modules of the marks.
func blackSpots(at func(x, y float64) tone.Pixel) (spots []tone.Spot) {
	const n = calibration.MarkModules
	for _, m := range calibration.ControlFrame.Marks {
		for i := range n * n {
			row, column := i/n, i%n
			if !m.Black(row, column) {
				continue
			}
			x := m.Centre.X + calibration.Module*float64(column-n/2)
			y := m.Centre.Y + calibration.Module*float64(row-n/2)
			spots = append(spots, spotAt(x, y, 1, blackApart, at))
		}
	}
	return spots
}

// spotAt is a spot of (2 n + 1)^2 places, so many mm apart, the middle first. Over so little the picture of
// the plane is as good as straight.
func spotAt(x, y float64, n int, apart float64, at func(x, y float64) tone.Pixel) tone.Spot {
	mid, right, down := at(x, y), at(x+apart, y), at(x, y+apart)
	s := tone.Spot{X: x, Y: y, At: []tone.Pixel{mid}}
	for i := -n; i <= n; i++ {
		for j := -n; j <= n; j++ {
			if i != 0 || j != 0 {
				s.At = append(s.At, tone.Pixel{
					X: mid.X + float64(i)*(right.X-mid.X) + float64(j)*(down.X-mid.X),
					Y: mid.Y + float64(i)*(right.Y-mid.Y) + float64(j)*(down.Y-mid.Y),
				})
			}
		}
	}
	return s
}

// takeOff takes a tone off levels that were read at places of the picture.
func takeOff(t *tone.Tone, levels []float32, at func(int) homography.Pixel) {
	if t == nil {
		return
	}
	for i, v := range levels {
		levels[i] = float32(255 * t.Plain(float64(v)/255, tone.Pixel(at(i))))
	}
}
