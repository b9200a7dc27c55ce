package reading

import (
	"math"

	"sitspan/calibration"
	"sitspan/imprint/homography"
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
	off := rimAgainstFrame(p, toPixel)
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
func rimAgainstFrame(p *photo.Photo, toPixel func(relief.Point) homography.Pixel) float64 {
	rim, white := colourOf(p, rimPoints(), toPixel), colourOf(p, relief.Patches, toPixel)
	var off float64
	for c := range rim {
		off = math.Max(off, math.Abs(math.Log(math.Max(rim[c], 1e-3)/math.Max(white[c], 1e-3))))
	}
	return off
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

// colourOf is the median linear light of each colour over squares of 3 x 3 mm round the points that lie in
// the picture, millimetre by millimetre.
func colourOf(p *photo.Photo, at []relief.Point,
	toPixel func(relief.Point) homography.Pixel) (rgb [3]float64) {
	var seen [3][]float32
	for _, q := range at {
		for k := range 9 {
			here := toPixel(relief.Point{X: q.X + float64(k%3) - 1, Y: q.Y + float64(k/3) - 1})
			next := toPixel(relief.Point{X: q.X + float64(k%3), Y: q.Y + float64(k/3) - 1})
			if spot, ok := p.Spot(here.X, here.Y, here.Distance(next)/2); ok {
				for c, v := range spot {
					seen[c] = append(seen[c], float32(v))
				}
			}
		}
	}
	for c := range rgb {
		if len(seen[c]) > 0 {
			rgb[c] = relief.Linear(rank.Quantile32(seen[c], 0.5))
		}
	}
	return rgb
}
