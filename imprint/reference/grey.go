package reference

import (
	"image"
	"math"
	"slices"

	"sitspan/imprint/homography"
	"sitspan/imprint/internal/blocks"
	"sitspan/imprint/internal/cores"
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
	g := gradients{make([]float32, len(l.v)), make([]float32, len(l.v)), make([]float32, len(l.v))}
	cores.Each(l.h-2, func(i int) { l.slopes(i+1, g) })
	sample := make([]float32, 0, len(l.v)/11+1)
	for i := (l.w + 11) / 11 * 11; i < len(l.v)-l.w; i += 11 {
		if x := i % l.w; x > 0 && x < l.w-1 {
			sample = append(sample, g.size[i])
		}
	}
	if len(sample) == 0 {
		return nil
	}
	slices.Sort(sample)
	least := max(0.4, 2.5*sample[len(sample)*3/10])
	by := make([][]edgel, l.h) // its rows
	cores.Each(l.h-4, func(i int) { by[i+2] = l.edgelsIn(i+2, g, least) })
	return slices.Concat(by...)
}

// gradients are a picture's, levels per px: along x, along y, and their size.
type gradients struct{ x, y, size []float32 }

// slopes are the gradients of a row within.
func (l levels) slopes(y int, g gradients) {
	n := l.w - 2
	if n < 1 {
		return
	}
	a, b, c := l.v[(y-1)*l.w:][:n+2], l.v[y*l.w:][:n+2], l.v[(y+1)*l.w:][:n+2]
	gx, gy, size := g.x[y*l.w+1:][:n], g.y[y*l.w+1:][:n], g.size[y*l.w+1:][:n]
	for i := range n {
		dx := (3*(a[i+2]-a[i]) + 10*(b[i+2]-b[i]) + 3*(c[i+2]-c[i])) / 32 // Scharr
		dy := (3*(c[i]-a[i]) + 10*(c[i+1]-a[i+1]) + 3*(c[i+2]-a[i+2])) / 32
		gx[i], gy[i], size[i] = dx, dy, float32(math.Sqrt(float64(dx*dx+dy*dy)))
	}
}

// edgelsIn are those of a row at which the grey level changes by so much at least.
func (l levels) edgelsIn(y int, g gradients, least float32) (out []edgel) {
	for x := 2; x+2 < l.w; x++ {
		i := y*l.w + x
		m := g.size[i]
		if m < least {
			continue
		}
		dx, dy := g.x[i]/m, g.y[i]/m
		sx, sy := toward(dx), toward(dy)
		before, after := g.size[i-sy*l.w-sx], g.size[i+sy*l.w+sx]
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
		if angle >= math.Pi {
			angle -= math.Pi
		}
		out = append(out, edgel{float64(x) + off*float64(sx), float64(y) + off*float64(sy), angle, float64(m)})
	}
	return out
}

// toward is the nearest of -1, 0 and 1 to a part of a direction.
func toward(d float32) int {
	switch {
	case d >= 0.5:
		return 1
	case d <= -0.5:
		return -1
	}
	return 0
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
