package photo

import (
	"image"
	"image/color"
	"image/draw"
)

// plain turns a decoder's picture into one of the three kinds that are kept.
// What is transparent becomes white, the colour of paper.
func plain(m image.Image) image.Image {
	switch m := m.(type) {
	case *image.YCbCr:
		if m.Rect.Min == (image.Point{}) {
			return m
		}
	case *image.Gray:
		if m.Rect.Min == (image.Point{}) {
			return m
		}
	case *image.Gray16:
		return highBytes(m)
	case *image.NYCbCrA: // a WebP with alpha
		fullSwing(&m.YCbCr)
	}
	b := m.Bounds()
	flat := image.NewRGBA(image.Rect(0, 0, b.Dx(), b.Dy()))
	draw.Draw(flat, flat.Rect, image.NewUniform(color.White), image.Point{}, draw.Src)
	draw.Draw(flat, flat.Rect, m, b.Min, draw.Over)
	return flat
}

// highBytes drops the lower half of 16 bit greys.
func highBytes(m *image.Gray16) *image.Gray {
	w, h := m.Rect.Dx(), m.Rect.Dy()
	g := image.NewGray(image.Rect(0, 0, w, h))
	for y := range h {
		row := m.Pix[y*m.Stride : y*m.Stride+2*w]
		for x := range w {
			g.Pix[y*g.Stride+x] = row[2*x]
		}
	}
	return g
}

// fullSwing stretches studio swing (luma 16 to 235, chroma 16 to 240: ITU-R BT.601) to the full
// swing that image.YCbCr means, in place. Lossy WebP always has it (RFC 6386 9.2 says BT.601 and no
// other; that libwebp takes its studio swing was seen on a file written by cwebp), which
// golang.org/x/image/webp v0.47.0 does not undo, and HEIC has it where its nclx property says so.
func fullSwing(m *image.YCbCr) {
	stretch(m.Y, 16, 0, 219)
	stretch(m.Cb, 128, 128, 224)
	stretch(m.Cr, 128, 128, 224)
}

// stretch maps v to (v - from) 255/span + to, rounded and clamped.
func stretch(plane []byte, from, to, span int) {
	var table [256]byte
	for v := range table {
		scaled := (2*255*(v-from) + 2*to*span + span) // twice the numerator, plus a half
		if scaled < 0 {
			scaled = 0
		}
		table[v] = byte(min(scaled/(2*span), 255))
	}
	for i, v := range plane {
		plane[i] = table[v]
	}
}
