package cv

import (
	"image"
	"image/color"
	"math"
	"slices"
	"unsafe"

	"gocv.io/x/gocv"

	"sitspan/imprint/internal/blocks"
)

// Sample reads a grey picture at the positions (mapX, mapY), px, of a grid of
// w x h samples given row by row, and returns the grey levels (0 to 255) in
// the same order. Each sample averages over about one grid cell, so that a
// coarse grid sees no aliasing, and nothing is rounded: the relief of an
// imprint is a matter of a few levels. A position outside the picture gives
// NaN.
func Sample(img *image.Gray, mapX, mapY []float32, w, h int) ([]float32, error) {
	size, err := greyBounds(img)
	if err != nil {
		return nil, err
	}
	if err := checkGrid(mapX, mapY, w, h); err != nil {
		return nil, err
	}
	c := cropFor(size, mapX, mapY, w, h)
	if c.box.Empty() {
		return allNaN(w * h), nil
	}
	return c.sample(c.blockMeans(img), mapX, mapY, w, h)
}

// crop is the part of a picture that a grid needs and how it is reduced: by
// averaging blocks of k x k px, then by a blur of the given variance, blocks^2.
type crop struct {
	width, height int             // of the whole picture
	box           image.Rectangle // whole blocks; the picture's first pixel is (0, 0)
	k             int
	variance      float64
}

// cropFor finds the bounding box of the positions inside the picture, with a
// margin for interpolation, and the reduction that suits the grid's step.
//
// A mean over a grid cell of g px has variance g^2/12. Blocks of k px, read
// bilinearly between their centres, have k^2 (1/12 + 1/6) = k^2/4; k is the
// largest that stays below, and the blur makes up the rest.
func cropFor(size image.Point, mapX, mapY []float32, w, h int) crop {
	c := crop{width: size.X, height: size.Y, k: 1}
	loX, loY, hiX, hiY := math.Inf(1), math.Inf(1), math.Inf(-1), math.Inf(-1)
	for i := range mapX {
		if x, y := float64(mapX[i]), float64(mapY[i]); c.holds(x, y) {
			loX, loY, hiX, hiY = min(loX, x), min(loY, y), max(hiX, x), max(hiY, y)
		}
	}
	if loX > hiX {
		return c
	}
	g := gridStep(c, mapX, mapY, w, h)
	c.k = max(1, min(int(g/math.Sqrt(3)), size.X, size.Y))
	k := float64(c.k)
	c.variance = max(0, g*g/(12*k*k)-1.0/4)
	margin := 4 * c.k
	lo := image.Pt(max(0, int(loX)-margin), max(0, int(loY)-margin))
	c.box = image.Rectangle{lo, lo.Add(image.Pt(c.blocks(int(hiX)+margin, lo.X, size.X)*c.k,
		c.blocks(int(hiY)+margin, lo.Y, size.Y)*c.k))}
	return c
}

// blocks is the number of whole blocks from lo to about hi within the picture.
func (c crop) blocks(hi, lo, side int) int {
	return max(1, min((hi-lo)/c.k+1, (side-lo)/c.k))
}

// holds reports whether a position lies on the picture's area.
func (c crop) holds(x, y float64) bool {
	return x >= -0.5 && y >= -0.5 && x <= float64(c.width)-0.5 && y <= float64(c.height)-0.5
}

// gridStep is the median distance in px between neighbouring samples, over
// both directions of the grid, from every 7th pair inside the picture.
func gridStep(c crop, mapX, mapY []float32, w, h int) float64 {
	var steps []float64
	add := func(i, j int) {
		x0, y0, x1, y1 := float64(mapX[i]), float64(mapY[i]), float64(mapX[j]), float64(mapY[j])
		if c.holds(x0, y0) && c.holds(x1, y1) {
			steps = append(steps, math.Hypot(x1-x0, y1-y0))
		}
	}
	for i := 0; i < w*h; i += 7 {
		if (i+1)%w != 0 {
			add(i, i+1)
		}
		if i+w < w*h {
			add(i, i+w)
		}
	}
	if len(steps) == 0 {
		return 1
	}
	return median(steps)
}

// plane32 is a plane of grey levels with fractions.
type plane32 struct {
	v    []float32
	w, h int
}

// blockMeans averages the picture over the crop's blocks.
func (c crop) blockMeans(img *image.Gray) plane32 {
	out := plane32{w: c.box.Dx() / c.k, h: c.box.Dy() / c.k}
	out.v = make([]float32, out.w*out.h)
	scale := 1 / float32(c.k*c.k)
	first := img.Pix[c.box.Min.Y*img.Stride+c.box.Min.X:]
	blocks.Sums(first, img.Stride, c.box.Dx(), c.box.Dy(), c.k, func(y int, sums []uint32) {
		for x, s := range sums {
			out.v[y*out.w+x] = float32(s) * scale
		}
	})
	return out
}

// sample blurs the blocks where needed and interpolates at the grid.
func (c crop) sample(blocks plane32, mapX, mapY []float32, w, h int) ([]float32, error) {
	small, err := borrow(blocks.h, blocks.w, gocv.MatTypeCV32F, 4, bytesOf32(blocks.v))
	if err != nil {
		return nil, err
	}
	defer small.Close()
	blurred := gocv.NewMat()
	defer blurred.Close()
	src := small.Mat
	if c.variance > 0 {
		kernel, err := borrow(1, 5, gocv.MatTypeCV32F, 4, bytesOf32(binomial5(c.variance)))
		if err != nil {
			return nil, err
		}
		defer kernel.Close()
		gocv.SepFilter2D(src, &blurred, gocv.MatTypeCV32F, kernel.Mat, kernel.Mat, image.Pt(-1, -1), 0,
			gocv.BorderReplicate)
		src = blurred
	}
	mx, err := borrow(h, w, gocv.MatTypeCV32F, 4, bytesOf32(c.inBlocks(mapX, mapY, mapX, c.box.Min.X)))
	if err != nil {
		return nil, err
	}
	defer mx.Close()
	my, err := borrow(h, w, gocv.MatTypeCV32F, 4, bytesOf32(c.inBlocks(mapX, mapY, mapY, c.box.Min.Y)))
	if err != nil {
		return nil, err
	}
	defer my.Close()
	dst := gocv.NewMat()
	defer dst.Close()
	gocv.Remap(src, &dst, &mx.Mat, &my.Mat, gocv.InterpolationLinear, gocv.BorderReplicate, color.RGBA{})
	v, err := dst.DataPtrFloat32()
	if err != nil {
		return nil, err
	}
	out := slices.Clone(v)
	for i := range out {
		if !c.holds(float64(mapX[i]), float64(mapY[i])) {
			out[i] = float32(math.NaN())
		}
	}
	return out, nil
}

// binomial5 is [a 1-2a a] convolved with itself: five weights with exactly the
// given variance, 4a, which is at most 3/4 here (a grid step just under twice
// sqrt 3 px).
func binomial5(variance float64) []float32 {
	a := variance / 4
	b := 1 - 2*a
	return []float32{float32(a * a), float32(2 * a * b), float32(b*b + 2*a*a), float32(2 * a * b),
		float32(a * a)}
}

// inBlocks turns one coordinate of the positions into blocks from the crop's
// corner. A position outside, or one that is no number, which OpenCV would
// turn into any index, becomes 0.
func (c crop) inBlocks(mapX, mapY, which []float32, origin int) []float32 {
	out := make([]float32, len(which))
	for i, v := range which {
		if c.holds(float64(mapX[i]), float64(mapY[i])) {
			out[i] = float32((float64(v)-float64(origin)+0.5)/float64(c.k) - 0.5)
		}
	}
	return out
}

// bytesOf32 are the bytes of numbers, as OpenCV reads them: the same memory.
func bytesOf32(v []float32) []byte {
	return unsafe.Slice((*byte)(unsafe.Pointer(unsafe.SliceData(v))), 4*len(v))
}

func allNaN(n int) []float32 {
	v := make([]float32, n)
	for i := range v {
		v[i] = float32(math.NaN())
	}
	return v
}
