package tone

import (
	"image"
	"math"
	"slices"

	"sitspan/imprint/internal/blocks"
	"sitspan/imprint/relief"
)

// Pixel is a place in the picture, px; integers are pixel centres.
type Pixel struct{ X, Y float64 }

const (
	fineMM = 0.5 // about the side of a block from which spots are read
	coarse = 4   // of them along a block from which surroundings are made
)

// plane is a reduced picture: means over blocks of k x k px.
type plane struct {
	v    []float32
	w, h int
	k    float64 // px
}

// reduced is the picture's levels in blocks of about fineMM; false where it is smaller than a coarse one.
func reduced(grey *image.Gray, pxPerMM float64) (p plane, ok bool) {
	w, h := grey.Rect.Dx(), grey.Rect.Dy()
	k := max(1, int(math.Round(fineMM*pxPerMM)))
	if w < coarse*k || h < coarse*k {
		return p, false
	}
	p = plane{v: make([]float32, 0, (w/k)*(h/k)), w: w / k, h: h / k, k: float64(k)}
	blocks.Sums(grey.Pix, grey.Stride, w, h, k, func(_ int, sums []uint32) {
		for _, s := range sums {
			p.v = append(p.v, float32(s)/(255*float32(k*k)))
		}
	})
	return p, true
}

// coarser is the same in blocks of coarse times the side.
func (p plane) coarser() plane {
	c := plane{w: p.w / coarse, h: p.h / coarse, k: coarse * p.k}
	c.v = make([]float32, c.w*c.h)
	for y := range coarse * c.h {
		to, row := c.v[y/coarse*c.w:][:c.w], p.v[y*p.w:]
		for x := range to {
			for _, v := range row[coarse*x : coarse*x+coarse] {
				to[x] += v / (coarse * coarse)
			}
		}
	}
	return c
}

// holds tells whether a place is within the picture.
func (p plane) holds(q Pixel) bool {
	return q.X >= 0 && q.Y >= 0 && q.X < float64(p.w)*p.k && q.Y < float64(p.h)*p.k
}

// light is the same picture in linear light.
func (p plane) light() plane {
	l := p
	l.v = make([]float32, len(p.v))
	for i, v := range p.v {
		l.v[i] = float32(relief.Linear(255 * float64(v)))
	}
	return l
}

// at is the plane's value at a place of the picture, between the blocks' centres in proportion; the border's
// beyond them.
func (p plane) at(q Pixel) float64 {
	x, i := cell((q.X+0.5)/p.k-0.5, p.w)
	y, j := cell((q.Y+0.5)/p.k-0.5, p.h)
	i1, j1 := min(i+1, p.w-1), min(j+1, p.h-1)
	above := (1-x)*float64(p.v[j*p.w+i]) + x*float64(p.v[j*p.w+i1])
	below := (1-x)*float64(p.v[j1*p.w+i]) + x*float64(p.v[j1*p.w+i1])
	return (1-y)*above + y*below
}

// cell is the block before a place along a side of n blocks, and how far beyond its centre the place is.
func cell(at float64, n int) (beyond float64, before int) {
	at = math.Max(0, math.Min(float64(n-1), at))
	before = int(at)
	return at - float64(before), before
}

// passes of a mean over 2 r + 1 blocks make a bell whose standard deviation is sqrt(r (r + 1)) blocks: a mean
// over n has the variance (n^2 - 1) / 12.
const passes = 3

// blurred is the plane blurred; it is mirrored at its border, as picture programs do.
func (p plane) blurred(r int) plane {
	out := p
	out.v = slices.Clone(p.v)
	row, rows := make([]float32, p.w+2*r+1), make([]float32, len(p.v))
	for range passes {
		out.meanAlong(row, r)
		out.meanDown(rows, r)
	}
	return out
}

// meanAlong sets each value to the mean of 2 r + 1 of its row; wide holds a row with r more before it and
// r + 1 behind.
func (p plane) meanAlong(wide []float32, r int) {
	n := 1 / float32(2*r+1)
	for y := range p.h {
		row := p.v[y*p.w:][:p.w]
		copy(wide[r:], row)
		for i := range r + 1 {
			wide[i], wide[r+p.w+i] = row[mirrored(i-r, p.w)], row[mirrored(p.w+i, p.w)]
		}
		sum := float32(0)
		for _, v := range wide[:2*r+1] {
			sum += v
		}
		in := wide[2*r+1:][:len(row)]
		for x := range row {
			row[x] = sum * n
			sum += in[x] - wide[x]
		}
	}
}

// meanDown sets each value to the mean of 2 r + 1 of its column; old holds them all.
func (p plane) meanDown(old []float32, r int) {
	copy(old, p.v)
	n, sums := 1/float32(2*r+1), make([]float32, p.w)
	line := func(y int) []float32 { return old[mirrored(y, p.h)*p.w:][:p.w] }
	for i := -r; i <= r; i++ {
		for x, v := range line(i) {
			sums[x] += v
		}
	}
	for y := range p.h {
		row, in, out := p.v[y*p.w:][:p.w], line(y+r+1), line(y-r)
		for x, s := range sums {
			row[x] = s * n
			sums[x] = s + in[x] - out[x]
		}
	}
}

// mirrored is the index within 0 to n - 1 at which a picture shows what lies beyond its border, the border
// itself not repeated.
func mirrored(i, n int) int {
	if n == 1 {
		return 0
	}
	period := 2 * (n - 1)
	i = ((i % period) + period) % period
	return min(i, period-i)
}
