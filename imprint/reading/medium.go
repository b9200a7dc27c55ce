package reading

import (
	"image"
	"math"
	"slices"

	"sitspan/calibration"
	"sitspan/imprint/homography"
	"sitspan/imprint/internal/cv"
	"sitspan/imprint/internal/rank"
	"sitspan/imprint/judge"
	"sitspan/imprint/photo"
	"sitspan/imprint/relief"
)

// MediumOf tells foam from paper: marking paper is one sheet with the frame, so the rim of the window is as
// white as the white between the marks, in every colour; foam has a colour and a brightness of its own. White
// foam is told by its relief, which brightens as much as it darkens, while ink only darkens. Empty where none
// of this is clear.
func MediumOf(
	p *photo.Photo,
	w relief.Window,
	toPixel func(relief.Point) homography.Pixel,
	flat bool,
) calibration.Medium {
	if flat {
		return calibration.Paper
	}
	off, err := rimAgainstFrame(p, toPixel)
	if err != nil {
		return ""
	}
	_, dark, bright := w.OverFrame()
	switch {
	case off > judge.TwoSheets.Value:
		return calibration.Foam
	case off < judge.OneSheet.Value && dark > 0.3 && bright < dark/10:
		return calibration.Paper
	case bright > dark/6:
		return calibration.Foam
	}
	return ""
}

// rimAgainstFrame is the largest difference, over the colours, of ln light between the window's rim and the
// frame's white.
func rimAgainstFrame(p *photo.Photo, toPixel func(relief.Point) homography.Pixel) (float64, error) {
	img := p.Colour(1200)
	scale := float64(img.Bounds().Dx()) / float64(p.Width)
	place := func(q relief.Point) homography.Pixel {
		px := toPixel(q)
		return homography.Pixel{X: (px.X+0.5)*scale - 0.5, Y: (px.Y+0.5)*scale - 0.5}
	}
	rim, err := colourOf(img, rimPoints(), place)
	if err != nil {
		return 0, err
	}
	white, err := colourOf(img, relief.Patches, place)
	if err != nil {
		return 0, err
	}
	var off float64
	for c := range rim {
		off = math.Max(off, math.Abs(math.Log(math.Max(rim[c], 1e-3)/math.Max(white[c], 1e-3))))
	}
	return off, nil
}

// rimPoints lie 4 mm inside the window's edge, clear of the card's shadow.
func rimPoints() (pts []relief.Point) {
	w := calibration.ControlFrame.Window
	x, y := w.Width/2-4, w.Height/2-4
	for t := -0.9; t <= 0.9; t += 0.1 {
		pts = append(
			pts,
			relief.Point{X: t * x, Y: -y},
			relief.Point{X: t * x, Y: y},
			relief.Point{X: -x, Y: t * y},
			relief.Point{X: x, Y: t * y},
		)
	}
	return pts
}

// colourOf is the median linear light of each colour over small squares round the points that lie in the
// picture.
func colourOf(
	img *image.NRGBA,
	at []relief.Point,
	place func(relief.Point) homography.Pixel,
) (rgb [3]float64, err error) {
	const side = 3 // samples along a square, 1 mm apart: sampling averages over the steps of its grid
	n := side * side * len(at)
	mx, my := make([]float32, n), make([]float32, n)
	for i := range mx {
		q, k := at[i/(side*side)], i%(side*side)
		q.X += float64(k%side) - 1
		q.Y += float64(k/side) - 1
		p := place(q)
		mx[i], my[i] = float32(p.X), float32(p.Y)
	}
	levels, err := cv.SampleColour(img, mx, my, side, n/side)
	if err != nil {
		return rgb, err
	}
	for c := range rgb {
		seen := slices.DeleteFunc(slices.Clone(levels[c]), func(v float32) bool { return v != v })
		if len(seen) > 0 {
			rgb[c] = relief.Linear(rank.Quantile32(seen, 0.5))
		}
	}
	return rgb, nil
}
