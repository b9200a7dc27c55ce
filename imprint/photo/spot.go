package photo

import (
	"image"
	"math"
)

// Spot is the mean colour, red, green and blue from 0 to 255, of the square about (x, y) whose sides lie half
// px away, as far as it lies in the upright picture; false where (x, y) does not. It reads no other pixel.
func (p *Photo) Spot(x, y, half float64) (rgb [3]float64, ok bool) {
	if !(x >= -0.5 && y >= -0.5 && x < float64(p.Width)-0.5 && y < float64(p.Height)-0.5) {
		return rgb, false
	}
	side := func(v float64, most int) (from, to int) {
		from = max(0, int(math.Round(v-half)))
		return min(from, most-1), min(max(from+1, int(math.Round(v+half))), most)
	}
	x0, x1 := side(x, p.Width)
	y0, y1 := side(y, p.Height)
	a, b := p.toStored(x0, y0), p.toStored(x1-1, y1-1)
	box := image.Rect(min(a.X, b.X), min(a.Y, b.Y), max(a.X, b.X)+1, max(a.Y, b.Y)+1)
	switch m := p.stored.(type) {
	case *image.YCbCr:
		return spotOfYCbCr(m, box), true
	case *image.Gray:
		v := meanOf(box, func(x, y int) byte { return m.Pix[y*m.Stride+x] })
		return [3]float64{v, v, v}, true
	case *image.RGBA:
		for c := range rgb {
			rgb[c] = meanOf(box, func(x, y int) byte { return m.Pix[y*m.Stride+4*x+c] })
		}
	}
	return rgb, true
}

// spotOfYCbCr turns the means into a colour: ITU-T T.871, section 7.
func spotOfYCbCr(m *image.YCbCr, box image.Rectangle) [3]float64 {
	y := meanOf(box, func(x, y int) byte { return m.Y[y*m.YStride+x] })
	cb := meanOf(box, func(x, y int) byte { return m.Cb[m.COffset(x, y)] }) - 128
	cr := meanOf(box, func(x, y int) byte { return m.Cr[m.COffset(x, y)] }) - 128
	level := func(v float64) float64 { return math.Max(0, math.Min(255, v)) }
	return [3]float64{level(y + 1.402*cr), level(y - 0.344136*cb - 0.714136*cr), level(y + 1.772*cb)}
}

func meanOf(box image.Rectangle, at func(x, y int) byte) float64 {
	sum := 0
	for y := box.Min.Y; y < box.Max.Y; y++ {
		for x := box.Min.X; x < box.Max.X; x++ {
			sum += int(at(x, y))
		}
	}
	return float64(sum) / float64(box.Dx()*box.Dy())
}

// toStored is where a pixel of the upright picture is stored.
func (p *Photo) toStored(x, y int) (at image.Point) {
	m, b := turnMatrix[p.turn], p.stored.Bounds()
	// The inverse of such a matrix is its transpose.
	at = image.Pt(m[0]*x+m[2]*y, m[1]*x+m[3]*y)
	if m[0]+m[2] < 0 {
		at.X += b.Dx() - 1
	}
	if m[1]+m[3] < 0 {
		at.Y += b.Dy() - 1
	}
	return at
}
