package overlay

import (
	"image"
	"image/color"
	"math"

	"github.com/disintegration/imaging"
)

// point is a place on the overlay in px; integers are pixel centres.
type point struct{ x, y float64 }

func (p point) plus(dx, dy float64) point { return point{p.x + dx, p.y + dy} }

func (p point) distance(q point) float64 { return math.Hypot(p.x-q.x, p.y-q.y) }

// box is an upright rectangle on the overlay, px.
type box struct{ x0, y0, x1, y1 float64 }

func (b box) grown(d float64) box { return box{b.x0 - d, b.y0 - d, b.x1 + d, b.y1 + d} }

func (b box) centre() point { return point{(b.x0 + b.x1) / 2, (b.y0 + b.y1) / 2} }

// overlap is the area in px^2 that two boxes share.
func (b box) overlap(o box) float64 {
	w := math.Min(b.x1, o.x1) - math.Max(b.x0, o.x0)
	h := math.Min(b.y1, o.y1) - math.Max(b.y0, o.y0)
	return math.Max(w, 0) * math.Max(h, 0)
}

// boxOf is the box of a rectangle's pixels, by their outer edges.
func boxOf(r image.Rectangle) box {
	return box{float64(r.Min.X) - 0.5, float64(r.Min.Y) - 0.5, float64(r.Max.X) - 0.5, float64(r.Max.Y) - 0.5}
}

// canvas is an opaque picture with a stencil over it. Shapes are added to the
// stencil, where they merge, and then inked at once: a translucent line does
// not darken where its pieces meet.
type canvas struct {
	img     *image.NRGBA
	stencil []uint8
	clip    image.Rectangle // where shapes may fall
	dirty   image.Rectangle // what of the stencil is in use
}

// newCanvas is w x h px of one colour.
func newCanvas(w, h int, ground color.NRGBA) *canvas {
	img := imaging.New(w, h, ground)
	return &canvas{img: img, stencil: make([]uint8, w*h), clip: img.Rect}
}

// lay copies the part of a picture inside a frame onto the canvas, the
// picture's corner at a place.
func (c *canvas) lay(picture *image.NRGBA, at image.Point, frame image.Rectangle) {
	shown := picture.Rect.Sub(picture.Rect.Min).Add(at).Intersect(frame).Intersect(c.img.Rect)
	for y := shown.Min.Y; y < shown.Max.Y; y++ {
		from := picture.Pix[picture.PixOffset(picture.Rect.Min.X+shown.Min.X-at.X, picture.Rect.Min.Y+y-at.Y):]
		copy(c.img.Pix[c.img.PixOffset(shown.Min.X, y):], from[:4*shown.Dx()])
	}
}

// within runs a drawing with shapes confined to a part of the canvas.
func (c *canvas) within(part image.Rectangle, draw func()) {
	before := c.clip
	c.clip = part.Intersect(before)
	draw()
	c.clip = before
}

// cells calls f for the pixels of the clip that a box touches and raises the
// stencil to the cover, 0 to 1, that f returns.
func (c *canvas) cells(b box, f func(x, y float64) float64) {
	r := image.Rect(int(math.Floor(b.x0)), int(math.Floor(b.y0)), int(math.Ceil(b.x1))+1,
		int(math.Ceil(b.y1))+1).Intersect(c.clip)
	if r.Empty() {
		return
	}
	c.dirty = c.dirty.Union(r)
	for y := r.Min.Y; y < r.Max.Y; y++ {
		row := c.stencil[y*c.img.Rect.Dx():]
		for x := r.Min.X; x < r.Max.X; x++ {
			if v := cover(f(float64(x), float64(y))); v > row[x] {
				row[x] = v
			}
		}
	}
}

// cover turns a share of a pixel into a stencil's value.
func cover(share float64) uint8 {
	if share >= 1 {
		return 255
	}
	if share <= 0 {
		return 0
	}
	return uint8(255*share + 0.5)
}

// capsule adds a line with round ends, half px to either side. The share of a
// pixel is taken from its centre's distance, as if the edge were straight.
func (c *canvas) capsule(a, b point, half float64) {
	a, b, ok := clipped(a, b, boxOf(c.clip).grown(half+2))
	if !ok {
		return
	}
	dx, dy := b.x-a.x, b.y-a.y
	length, far := dx*dx+dy*dy, (half+0.5)*(half+0.5)
	share := func(x, y float64) float64 {
		t := 0.0
		if length > 0 {
			t = math.Min(1, math.Max(0, ((x-a.x)*dx+(y-a.y)*dy)/length))
		}
		x, y = x-a.x-t*dx, y-a.y-t*dy
		square := x*x + y*y
		if square >= far {
			return 0
		}
		return half + 0.5 - math.Sqrt(square)
	}
	// Long lines go by pieces, so that few pixels are asked in vain.
	n := math.Ceil(math.Sqrt(length)/24) + 1
	for i := 0.0; i < n; i++ {
		p, q := a.plus(dx*i/n, dy*i/n), a.plus(dx*(i+1)/n, dy*(i+1)/n)
		piece := box{math.Min(p.x, q.x), math.Min(p.y, q.y), math.Max(p.x, q.x), math.Max(p.y, q.y)}
		c.cells(piece.grown(half+1), share)
	}
}

// clipped cuts a line to a box (Liang and Barsky, ACM Trans. Graphics 3 (1984)
// 1; page from memory, the paper settles it); ok is false where nothing is left.
func clipped(a, b point, to box) (p, q point, ok bool) {
	t0, t1 := 0.0, 1.0
	cut := func(d, room float64) {
		if d < 0 {
			t0 = math.Max(t0, room/d)
		} else if d > 0 {
			t1 = math.Min(t1, room/d)
		} else if room < 0 {
			t1 = -1
		}
	}
	dx, dy := b.x-a.x, b.y-a.y
	cut(-dx, a.x-to.x0)
	cut(dx, to.x1-a.x)
	cut(-dy, a.y-to.y0)
	cut(dy, to.y1-a.y)
	return a.plus(t0*dx, t0*dy), a.plus(t1*dx, t1*dy), t0 <= t1
}

// polyline adds the lines that join points.
func (c *canvas) polyline(points []point, half float64) {
	for i := 1; i < len(points); i++ {
		c.capsule(points[i-1], points[i], half)
	}
}

// disc adds a filled circle.
func (c *canvas) disc(at point, r float64) { c.capsule(at, at, r) }

// ring adds a circle's outline.
func (c *canvas) ring(at point, r, half float64) {
	b := box{at.x, at.y, at.x, at.y}.grown(r + half + 1)
	c.cells(b, func(x, y float64) float64 {
		return half + 0.5 - math.Abs(math.Hypot(x-at.x, y-at.y)-r)
	})
}

// panel adds a filled rectangle with corners rounded by r.
func (c *canvas) panel(b box, r float64) {
	m := b.centre()
	w, h := (b.x1-b.x0)/2-r, (b.y1-b.y0)/2-r
	c.cells(b.grown(1), func(x, y float64) float64 {
		dx, dy := math.Abs(x-m.x)-w, math.Abs(y-m.y)-h
		out := math.Hypot(math.Max(dx, 0), math.Max(dy, 0)) + math.Min(math.Max(dx, dy), 0)
		return r + 0.5 - out
	})
}

// ink colours what the stencil covers and clears it.
func (c *canvas) ink(ink color.NRGBA) {
	w := c.img.Rect.Dx()
	for y := c.dirty.Min.Y; y < c.dirty.Max.Y; y++ {
		row := c.stencil[y*w+c.dirty.Min.X : y*w+c.dirty.Max.X]
		pixels := c.img.Pix[c.img.PixOffset(c.dirty.Min.X, y):]
		for i, share := range row {
			if share == 0 {
				continue
			}
			a := uint32(share) * uint32(ink.A) // of 255^2
			blend(pixels[4*i:4*i+3:4*i+3], ink, a)
			row[i] = 0
		}
	}
	c.dirty = image.Rectangle{}
}

// blend lays ink over a pixel at an opacity of a / 255^2.
func blend(pixel []uint8, ink color.NRGBA, a uint32) {
	const one = 255 * 255
	mix := func(under, over uint8) uint8 {
		return uint8((uint32(under)*(one-a) + uint32(over)*a + one/2) / one)
	}
	pixel[0], pixel[1], pixel[2] = mix(pixel[0], ink.R), mix(pixel[1], ink.G), mix(pixel[2], ink.B)
}
