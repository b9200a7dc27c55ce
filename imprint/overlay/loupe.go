package overlay

import (
	"image"
	"math"

	"github.com/disintegration/imaging"
)

const (
	loupeHalf   = 26.0 // mm to either side of the centre, at least
	loupeMost   = 80.0 // mm, at most
	loupeEllips = 1.4  // of the ellipse's larger semi-axis, at least
	loupeShape  = 0.62 // height over width
	loupeBlur   = 0.5  // mm, standard deviation: below a dent's features, above grain
	loupeGain   = 4.0  // largest gain of contrast
)

// loupe shows a part of the photo enlarged.
type loupe struct {
	*view
	centre *Centre
	crop   image.Rectangle // of the photo; it may stick out
	pxMM   float64         // of the photo, px/mm
}

// loupes are a block with a loupe for each centre, side by side.
func (v *view) loupes(pad, room float64) []block {
	var all []loupe
	for _, c := range v.scene.centres() {
		if l, ok := v.loupeAt(c); ok {
			all = append(all, l)
		}
	}
	if len(all) == 0 {
		return nil
	}
	if len(all) == 2 && all[1].crop.Min.X < all[0].crop.Min.X {
		all[0], all[1] = all[1], all[0] // beside each other as in the photo
	}
	gap := 0.6 * v.em
	w := math.Floor((room - gap) / 2)
	h := math.Floor(loupeShape * w)
	small := lettersOf(false, 0.85*v.em)
	views := block{h + 0.3*v.em, func(top float64) {
		for i, l := range all {
			x, y := int(pad+float64(i)*(w+gap)), int(top+0.2*v.em)
			l.draw(image.Rect(x, y, x+int(w), y+int(h)), small)
		}
	}}
	return append([]block{views}, v.paragraph(small, faint, pad, small.wrap(v.scene.Words.Loupe, room))...)
}

// loupeAt aims a loupe at a centre; ok is false where there is no scale or
// nothing to enlarge.
func (v *view) loupeAt(c *Centre) (l loupe, ok bool) {
	s := v.pxPerMM(c.PlaneMM)
	half := math.Max(loupeHalf, loupeEllips*math.Max(c.Semi[0], c.Semi[1]))
	w := 2 * math.Min(half, loupeMost) * s
	at := v.at(c.Px)
	if !(w >= 12 && w <= 4*float64(v.photo.Dx()+v.photo.Dy())) || !image.Pt(int(at.x), int(at.y)).In(v.photo) {
		return loupe{}, false
	}
	x, y := int(at.x+0.5-w/2), int(at.y+0.5-loupeShape*w/2)
	return loupe{v, c, image.Rect(x, y, x+int(w), y+int(loupeShape*w)), s}, true
}

// draw shows the loupe in a frame of the canvas.
func (l loupe) draw(frame image.Rectangle, small letters) {
	zoom := float64(frame.Dx()) / float64(l.crop.Dx())
	l.pastePhoto(frame, zoom)
	to := func(p point) point {
		return point{
			float64(frame.Min.X) + (p.x+0.5-float64(l.crop.Min.X))*zoom - 0.5,
			float64(frame.Min.Y) + (p.y+0.5-float64(l.crop.Min.Y))*zoom - 0.5,
		}
	}
	l.within(frame, func() {
		l.cased(amber, l.hair(), func(half float64) {
			at := to(l.at(l.centre.Px))
			radius := 0.0
			for _, line := range l.ellipse(l.centre) {
				for i := range line {
					line[i] = to(line[i])
					radius = math.Max(radius, at.distance(line[i]))
				}
				l.polyline(line, half)
			}
			// Open in the middle, so that the bottom itself is seen.
			open := math.Max(3*l.unit, radius+1.5*l.unit)
			l.cross(at, open, open+7*l.unit, half)
			l.disc(at, half)
		})
		l.scaleBar(frame, 10*l.pxMM*zoom, small)
		l.caption(frame, small)
	})
}

// pastePhoto enlarges the part of the photo and raises its contrast.
func (l loupe) pastePhoto(frame image.Rectangle, zoom float64) {
	part := l.crop.Intersect(l.clean.Rect)
	if part.Empty() {
		return
	}
	edge := func(at, from, to int) int { return to + int(math.Round(float64(at-from)*zoom)) }
	r := image.Rect(edge(part.Min.X, l.crop.Min.X, frame.Min.X), edge(part.Min.Y, l.crop.Min.Y, frame.Min.Y),
		edge(part.Max.X, l.crop.Min.X, frame.Min.X), edge(part.Max.Y, l.crop.Min.Y, frame.Min.Y))
	cut := imaging.Blur(imaging.Crop(l.clean, part), math.Max(0.3, loupeBlur*l.pxMM))
	raiseContrast(cut)
	cut = imaging.Resize(cut, max(1, r.Dx()), max(1, r.Dy()), imaging.Linear)
	l.lay(cut, r.Min, frame)
}

// scaleBar draws a bar of 10 mm at the lower right.
func (l loupe) scaleBar(frame image.Rectangle, length float64, small letters) {
	b := boxOf(frame)
	x, y := b.x1-0.9*l.em, b.y1-0.6*l.em
	if length > 0.8*(b.x1-b.x0) {
		return
	}
	l.cased(light, 1.6*l.hair(), func(half float64) {
		l.capsule(point{x - length, y}, point{x, y}, half)
	})
	l.cased(light, 0, func(half float64) {
		w := small.width(scaleUnit)
		if half > 0 {
			l.panel(box{x - length/2 - w/2 - 0.3*l.em, y - 1.4*small.em, x - length/2 + w/2 + 0.3*l.em,
				y - 0.4*small.em}, 0.3*l.em)
			return
		}
		l.write(small, x-length/2-w/2, y-0.55*small.em, scaleUnit)
	})
}

// caption names the centre at the upper left.
func (l loupe) caption(frame image.Rectangle, small letters) {
	b := boxOf(frame).grown(-0.4 * l.em)
	text := label{small.shortened(l.centre.Label, b.x1-b.x0-small.em), small, light}
	if text.text == "" {
		return
	}
	w, h := text.size()
	l.plate(box{b.x0, b.y0, b.x0 + w, b.y0 + h}, text)
}

// raiseContrast spreads the brightness of a picture about its middle and keeps
// its colours: an imprint's shading is a few per cent.
func raiseContrast(img *image.NRGBA) {
	var count [256]int
	each(img, func(p []uint8) { count[luma(p)]++ })
	total := img.Rect.Dx() * img.Rect.Dy()
	low, high := quantile(count, total/50), quantile(count, total-total/50-1)
	gain := math.Min(loupeGain, 170/math.Max(1, float64(high-low)))
	if gain <= 1 {
		return
	}
	middle := float64(low+high) / 2
	// Toward mid-grey as far as the spread needs room.
	shift := math.Max(95, math.Min(160, middle)) - middle
	each(img, func(p []uint8) {
		d := (gain-1)*(float64(luma(p))-middle) + shift
		for i := range 3 {
			p[i] = uint8(math.Max(0, math.Min(255, float64(p[i])+d)))
		}
	})
}

// each visits a picture's pixels.
func each(img *image.NRGBA, f func(p []uint8)) {
	for i := 0; i+3 < len(img.Pix); i += 4 {
		f(img.Pix[i : i+3 : i+3])
	}
}

// luma is a pixel's luma by ITU-R BT.601 weights, in 256ths.
func luma(p []uint8) uint8 {
	return uint8((77*int(p[0]) + 150*int(p[1]) + 29*int(p[2])) >> 8)
}

// quantile is the level below which rank pixels lie.
func quantile(count [256]int, rank int) int {
	for level, n := range count {
		if rank -= n; rank < 0 {
			return level
		}
	}
	return 255
}
