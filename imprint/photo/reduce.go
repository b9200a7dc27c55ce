package photo

import (
	"image"
	"image/color"

	"github.com/disintegration/imaging"
)

// Colour returns the upright picture reduced by averaging areas so that its
// longer side is at most maxSide px; it is never enlarged. The upright point
// (x, y) lies at ((x+0.5) w/Width - 0.5, (y+0.5) h/Height - 0.5) in the reduced
// picture of w x h px, to half a pixel of the upright picture, since the areas
// are whole pixels.
func (p *Photo) Colour(maxSide int) *image.NRGBA {
	b := p.stored.Bounds()
	w, h := fitInside(b.Dx(), b.Dy(), max(maxSide, 1))
	return turnColour(p.reduced(w, h), p.turn)
}

// fitInside reduces w x h to a longer side of at most maxSide.
func fitInside(w, h, maxSide int) (int, int) {
	long := max(w, h)
	if long <= maxSide {
		return w, h
	}
	scale := func(v int) int { return max(1, (v*maxSide+long/2)/long) }
	return scale(w), scale(h)
}

// reduced is the stored picture as w x h px of opaque colour.
func (p *Photo) reduced(w, h int) *image.NRGBA {
	out := image.NewNRGBA(image.Rect(0, 0, w, h))
	switch m := p.stored.(type) {
	case *image.YCbCr:
		reduceYCbCr(out, m)
	case *image.Gray:
		grey := samples{m.Pix, 1, m.Stride, m.Rect.Dx(), m.Rect.Dy()}.reduce(w, h)
		for i, v := range grey {
			setPixel(out, i, v, v, v)
		}
	case *image.RGBA:
		channel := func(c int) []byte {
			return samples{m.Pix[c:], 4, m.Stride, m.Rect.Dx(), m.Rect.Dy()}.reduce(w, h)
		}
		r, g, b := channel(0), channel(1), channel(2)
		for i := range r {
			setPixel(out, i, r[i], g[i], b[i])
		}
	}
	return out
}

// reduceYCbCr averages luma and chroma each on its own grid, then converts only
// the pixels that remain.
func reduceYCbCr(out *image.NRGBA, m *image.YCbCr) {
	w, h := out.Rect.Dx(), out.Rect.Dy()
	cw, ch := chromaSize(m)
	luma := samples{m.Y, 1, m.YStride, m.Rect.Dx(), m.Rect.Dy()}.reduce(w, h)
	cb := samples{m.Cb, 1, m.CStride, cw, ch}.reduce(w, h)
	cr := samples{m.Cr, 1, m.CStride, cw, ch}.reduce(w, h)
	for i := range luma {
		r, g, b := color.YCbCrToRGB(luma[i], cb[i], cr[i])
		setPixel(out, i, r, g, b)
	}
}

// chromaSize is the size of the chroma planes, in samples.
func chromaSize(m *image.YCbCr) (w, h int) {
	last := m.COffset(m.Rect.Max.X-1, m.Rect.Max.Y-1)
	return last%m.CStride + 1, last/m.CStride + 1
}

func setPixel(m *image.NRGBA, i int, r, g, b byte) {
	c := m.Pix[4*i : 4*i+4 : 4*i+4]
	c[0], c[1], c[2], c[3] = r, g, b, 255
}

// samples is one channel of a picture of w x h px: neighbours lie step bytes
// apart along x and stride bytes along y.
type samples struct {
	pix          []byte
	step, stride int
	w, h         int
}

// reduce averages the samples to w x h, rounded, row by row. Output pixel i
// covers the input from i s.w/w to (i+1) s.w/w, rounded down, and at least one
// sample, which is what a coarser chroma plane needs.
func (s samples) reduce(w, h int) []byte {
	out := make([]byte, w*h)
	sums := make([]uint32, w)
	columns := spans(s.w, w)
	for y, rows := range spans(s.h, h) {
		clear(sums)
		for row := rows.from; row < rows.to; row++ {
			s.addRow(sums, columns, row)
		}
		for x, c := range columns {
			n := uint32((c.to - c.from) * (rows.to - rows.from))
			out[y*w+x] = byte((sums[x] + n/2) / n)
		}
	}
	return out
}

// addRow adds an input row to the sums of the output pixels.
func (s samples) addRow(sums []uint32, columns []span, row int) {
	line := s.pix[row*s.stride:]
	line = line[:(s.w-1)*s.step+1]
	for x, c := range columns {
		var sum uint32
		if s.step == 1 {
			for _, v := range line[c.from:c.to] {
				sum += uint32(v)
			}
		} else {
			for i := c.from * s.step; i < c.to*s.step; i += s.step {
				sum += uint32(line[i])
			}
		}
		sums[x] += sum
	}
}

// span is a range of input samples.
type span struct{ from, to int }

// spans shares n input samples out among m output samples.
func spans(n, m int) []span {
	list := make([]span, m)
	for i := range list {
		list[i].from = i * n / m
		list[i].to = max((i+1)*n/m, list[i].from+1)
	}
	return list
}

// turnColour turns a reduced picture upright.
func turnColour(m *image.NRGBA, orientation int) *image.NRGBA {
	switch orientation {
	case 2:
		return imaging.FlipH(m)
	case 3:
		return imaging.Rotate180(m)
	case 4:
		return imaging.FlipV(m)
	case 5:
		return imaging.Transpose(m)
	case 6:
		return imaging.Rotate270(m) // imaging turns anticlockwise
	case 7:
		return imaging.Transverse(m)
	case 8:
		return imaging.Rotate90(m)
	}
	return m
}
