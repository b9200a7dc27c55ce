package reference

import (
	"image"
	"math"
	"slices"

	"sitspan/imprint/homography"
	"sitspan/imprint/internal/blocks"
)

// levels is a grey picture as numbers.
type levels struct {
	w, h int
	v    []float32
}

// reduced averages squares of k x k px; the reduced point x lies at (x + 0.5) k - 0.5 of the picture.
func reduced(img *image.Gray, k int) levels {
	b := img.Rect
	l := levels{b.Dx() / k, b.Dy() / k, nil}
	l.v = make([]float32, l.w*l.h)
	blocks.Sums(img.Pix, img.Stride, b.Dx(), b.Dy(), k, func(y int, sums []uint32) {
		for x, s := range sums {
			l.v[y*l.w+x] = float32(s) / float32(k*k)
		}
	})
	return l
}

// edgel is a pixel of the reduced picture where the grey level changes most along its own gradient.
type edgel struct {
	x, y  float64
	angle float64 // of the gradient, modulo pi: 0 to pi
	mag   float64 // levels per px
}

// edgels finds them; those below three times the median gradient are noise.
func (l levels) edgels() []edgel {
	gx, gy, mag := make([]float32, len(l.v)), make([]float32, len(l.v)), make([]float32, len(l.v))
	sample := make([]float32, 0, len(l.v)/11+1)
	for y := 1; y+1 < l.h; y++ {
		for x := 1; x+1 < l.w; x++ {
			i := y*l.w + x
			a, b, c := l.v[i-l.w-1:i-l.w+2], l.v[i-1:i+2], l.v[i+l.w-1:i+l.w+2]
			gx[i] = (3*(a[2]-a[0]) + 10*(b[2]-b[0]) + 3*(c[2]-c[0])) / 32 // Scharr
			gy[i] = (3*(c[0]-a[0]) + 10*(c[1]-a[1]) + 3*(c[2]-a[2])) / 32
			mag[i] = float32(math.Sqrt(float64(gx[i]*gx[i] + gy[i]*gy[i])))
			if i%11 == 0 {
				sample = append(sample, mag[i])
			}
		}
	}
	if len(sample) == 0 {
		return nil
	}
	slices.Sort(sample)
	least := max(0.4, 2.5*sample[len(sample)*3/10])
	var out []edgel
	for y := 2; y+2 < l.h; y++ {
		for x := 2; x+2 < l.w; x++ {
			i := y*l.w + x
			m := mag[i]
			if m < least {
				continue
			}
			dx, dy := gx[i]/m, gy[i]/m
			sx, sy := int(math.Round(float64(dx))), int(math.Round(float64(dy)))
			before, after := mag[i-sy*l.w-sx], mag[i+sy*l.w+sx]
			if m < before || m <= after {
				continue
			}
			off := 0.0
			if den := before - 2*m + after; den < 0 {
				off = 0.5 * float64((before-after)/den)
			}
			angle := math.Atan2(float64(dy), float64(dx))
			if angle < 0 {
				angle += math.Pi
			}
			out = append(out, edgel{float64(x) + off*float64(sx), float64(y) + off*float64(sy),
				math.Mod(angle, math.Pi), float64(m)})
		}
	}
	return out
}

// addLine adds to out the grey levels from a pixel on, a step further each, as at gives them.
func addLine(out []float64, img *image.Gray, from, step homography.Pixel) {
	w, h := img.Rect.Dx()-1, img.Rect.Dy()-1
	for i := range out {
		px, py := from.X+float64(i)*step.X, from.Y+float64(i)*step.Y
		x, y := int(px), int(py)
		if px < 0 || py < 0 || x >= w || y >= h {
			out[i] = math.NaN()
			continue
		}
		k := y*img.Stride + x
		fx, fy := px-float64(x), py-float64(y)
		up, low := img.Pix[k:k+2], img.Pix[k+img.Stride:k+img.Stride+2]
		out[i] += (1-fy)*((1-fx)*float64(up[0])+fx*float64(up[1])) +
			fy*((1-fx)*float64(low[0])+fx*float64(low[1]))
	}
}

// at is the grey level at a pixel of the picture, between pixels by bilinear interpolation; NaN outside.
func at(img *image.Gray, p homography.Pixel) float64 {
	x0, y0 := math.Floor(p.X), math.Floor(p.Y)
	x, y := int(x0), int(y0)
	if x < 0 || y < 0 || x+1 >= img.Rect.Dx() || y+1 >= img.Rect.Dy() {
		return math.NaN()
	}
	i := y*img.Stride + x
	fx, fy := p.X-x0, p.Y-y0
	a, b, c, d := float64(img.Pix[i]), float64(img.Pix[i+1]), float64(img.Pix[i+img.Stride]),
		float64(img.Pix[i+img.Stride+1])
	return (1-fy)*((1-fx)*a+fx*b) + fy*((1-fx)*c+fx*d)
}
