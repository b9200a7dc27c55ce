package photo

import "image"

// swapsAxes is true for the EXIF orientations that exchange x and y.
func swapsAxes(orientation int) bool { return orientation >= 5 }

// turnMatrix is how an EXIF orientation takes a direction in the stored picture
// to one in the upright picture: {xx, xy, yx, yy}, upright = M stored. From the
// table of EXIF 2.32, tag Orientation (which side of the scene row 0 and
// column 0 show).
var turnMatrix = [9][4]int{
	1: {1, 0, 0, 1},
	2: {-1, 0, 0, 1},
	3: {-1, 0, 0, -1},
	4: {1, 0, 0, -1},
	5: {0, 1, 1, 0},
	6: {0, -1, 1, 0},
	7: {0, -1, -1, 0},
	8: {0, 1, -1, 0},
}

// then is the orientation that does first and afterwards second.
func then(first, second int) int {
	a, b := turnMatrix[second], turnMatrix[first]
	product := [4]int{
		a[0]*b[0] + a[1]*b[2], a[0]*b[1] + a[1]*b[3],
		a[2]*b[0] + a[3]*b[2], a[2]*b[1] + a[3]*b[3],
	}
	for o := 1; o <= 8; o++ {
		if turnMatrix[o] == product {
			return o
		}
	}
	panic("photo: orientations are closed under composition")
}

// Grey returns the upright picture's luma at full resolution, with Stride =
// Width. It is not to be written to: where nothing is to be turned it is the
// photo's own. For JPEG, WebP and HEIC it is the stored Y plane
// (ITU-R BT.601 weights, gamma-encoded), else it is computed with the same
// weights.
func (p *Photo) Grey() *image.Gray {
	plane, stride := p.luma()
	if p.turn == 1 && stride == p.Width {
		return &image.Gray{Pix: plane, Stride: stride, Rect: p.Bounds()}
	}
	b := p.stored.Bounds()
	upright := image.NewGray(p.Bounds())
	turnPlane(upright, plane, stride, b.Dx(), b.Dy(), p.turn)
	return upright
}

func (p *Photo) luma() (plane []byte, stride int) {
	switch m := p.stored.(type) {
	case *image.YCbCr:
		return m.Y, m.YStride
	case *image.Gray:
		return m.Pix, m.Stride
	case *image.RGBA:
		return lumaOf(m), m.Rect.Dx()
	}
	panic("photo: a stored picture of an unknown type")
}

// lumaOf weighs as image/color.RGBToYCbCr does.
func lumaOf(m *image.RGBA) []byte {
	w, h := m.Rect.Dx(), m.Rect.Dy()
	plane := make([]byte, w*h)
	for y := range h {
		row := m.Pix[y*m.Stride : y*m.Stride+4*w]
		out := plane[y*w : (y+1)*w]
		for x := range out {
			c := row[4*x : 4*x+3 : 4*x+3]
			out[x] = byte((19595*uint32(c[0]) + 38470*uint32(c[1]) + 7471*uint32(c[2]) + 1<<15) >> 16)
		}
	}
	return plane
}

// turnPlane writes the w x h plane into upright, turned. Each upright pixel is
// read once at a linear index; quarter turns go tile by tile, so that both
// sides stay in the cache.
func turnPlane(upright *image.Gray, plane []byte, stride, w, h, orientation int) {
	origin, dx, dy := uprightToStored(stride, w, h, orientation)
	const tile = 64
	b := upright.Rect
	for y0 := 0; y0 < b.Dy(); y0 += tile {
		for x0 := 0; x0 < b.Dx(); x0 += tile {
			x1 := min(x0+tile, b.Dx())
			for y := y0; y < min(y0+tile, b.Dy()); y++ {
				out := upright.Pix[y*upright.Stride+x0 : y*upright.Stride+x1]
				from := origin + x0*dx + y*dy
				if dx == 1 {
					copy(out, plane[from:])
					continue
				}
				for i := range out {
					out[i] = plane[from]
					from += dx
				}
			}
		}
	}
}

// uprightToStored gives the index, in a stored plane, of the upright pixel
// (x, y) as origin + x dx + y dy.
func uprightToStored(stride, w, h, orientation int) (origin, dx, dy int) {
	m := turnMatrix[orientation]
	// The inverse of such a matrix is its transpose.
	dx = m[0] + m[1]*stride
	dy = m[2] + m[3]*stride
	if m[0]+m[2] < 0 { // stored x runs backwards
		origin += w - 1
	}
	if m[1]+m[3] < 0 { // stored y runs backwards
		origin += (h - 1) * stride
	}
	return origin, dx, dy
}
