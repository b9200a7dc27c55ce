package cv

import (
	"image"
	"image/color"
	"math"
	"slices"

	"gocv.io/x/gocv"
)

// Sample reads a grey picture at the positions (mapX, mapY), px, of a grid of
// w x h samples given row by row, and returns the grey levels (0 to 255) in
// the same order. Each sample averages over about one grid cell, so that a
// coarse grid sees no aliasing. A position outside the picture gives NaN.
func Sample(img *image.Gray, mapX, mapY []float32, w, h int) ([]float32, error) {
	p, err := greyBounds(img)
	if err != nil {
		return nil, err
	}
	if err := checkGrid(mapX, mapY, w, h); err != nil {
		return nil, err
	}
	crop := cropFor(p, mapX, mapY, w, h)
	if crop.box.Empty() {
		return allNaN(w * h), nil
	}
	pix := make([]byte, 0, crop.box.Dx()*crop.box.Dy())
	for y := crop.box.Min.Y; y < crop.box.Max.Y; y++ {
		row := img.Pix[y*img.Stride:]
		pix = append(pix, row[crop.box.Min.X:crop.box.Max.X]...)
	}
	return crop.sample(pix, mapX, mapY, w, h)
}

// SampleColour is Sample for a colour picture: red, green and blue, 0 to 255.
// Opacity is ignored.
func SampleColour(img *image.NRGBA, mapX, mapY []float32, w, h int) (rgb [3][]float32, err error) {
	p, err := colourBounds(img)
	if err != nil {
		return rgb, err
	}
	if err := checkGrid(mapX, mapY, w, h); err != nil {
		return rgb, err
	}
	crop := cropFor(p, mapX, mapY, w, h)
	pix := make([]byte, crop.box.Dx()*crop.box.Dy())
	for channel := range rgb {
		if crop.box.Empty() {
			rgb[channel] = allNaN(w * h)
			continue
		}
		i := 0
		for y := crop.box.Min.Y; y < crop.box.Max.Y; y++ {
			row := img.Pix[y*img.Stride+channel:]
			for x := crop.box.Min.X; x < crop.box.Max.X; x++ {
				pix[i] = row[4*x]
				i++
			}
		}
		if rgb[channel], err = crop.sample(pix, mapX, mapY, w, h); err != nil {
			return rgb, err
		}
	}
	return rgb, nil
}

// crop is the part of a picture that a grid needs.
type crop struct {
	width, height int             // of the whole picture
	box           image.Rectangle // from (0, 0) as the picture's first pixel
	factor        float64         // by which the part is reduced first, >= 1
}

// cropFor finds the bounding box of the positions inside the picture, with a
// margin for interpolation, and the reduction that suits the grid's step.
func cropFor(size image.Point, mapX, mapY []float32, w, h int) crop {
	c := crop{width: size.X, height: size.Y}
	loX, loY, hiX, hiY := math.Inf(1), math.Inf(1), math.Inf(-1), math.Inf(-1)
	for i := range mapX {
		if x, y := float64(mapX[i]), float64(mapY[i]); c.holds(x, y) {
			loX, loY, hiX, hiY = min(loX, x), min(loY, y), max(hiX, x), max(hiY, y)
		}
	}
	if loX > hiX {
		return c
	}
	// Reduced by f and interpolated bilinearly, a sample blurs with variance
	// f^2 (1/12 + 1/6) = f^2/4; averaging over a cell of g px has g^2/12. They
	// are equal at f = g / sqrt 3.
	c.factor = max(1, gridStep(c, mapX, mapY, w, h)/math.Sqrt(3))
	margin := int(math.Ceil(2*c.factor)) + 2
	c.box = image.Rect(int(loX)-margin, int(loY)-margin, int(hiX)+margin+2, int(hiY)+margin+2).
		Intersect(image.Rect(0, 0, c.width, c.height))
	return c
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
	slices.Sort(steps)
	return steps[len(steps)/2]
}

// sample reduces the cropped pixels by area averaging and interpolates. The
// reduction keeps 8 bits behind the grey level's point, since the relief of an
// imprint is a matter of a few levels.
func (c crop) sample(pix []byte, mapX, mapY []float32, w, h int) ([]float32, error) {
	part := plane8{pix, c.box.Dx(), c.box.Dy()}
	src, err := part.mat()
	if err != nil {
		return nil, err
	}
	defer src.Close()
	small := gocv.NewMat()
	defer small.Close()
	src.ConvertToWithParams(&small, gocv.MatTypeCV16U, 256, 0)
	size := image.Pt(max(1, int(math.Round(float64(part.w)/c.factor))), max(1, int(math.Round(float64(part.h)/c.factor))))
	if size != image.Pt(part.w, part.h) {
		gocv.Resize(small, &small, size, 0, 0, gocv.InterpolationArea)
	}
	small.ConvertToWithParams(&small, gocv.MatTypeCV32F, 1.0/256, 0)
	kx, ky := float64(size.X)/float64(part.w), float64(size.Y)/float64(part.h)
	return c.interpolate(small, kx, ky, mapX, mapY, w, h)
}

// interpolate reads the reduced part at the grid's positions; kx and ky are
// reduced px per px.
func (c crop) interpolate(small gocv.Mat, kx, ky float64, mapX, mapY []float32, w, h int) ([]float32, error) {
	mx, my := gocv.NewMatWithSize(h, w, gocv.MatTypeCV32F), gocv.NewMatWithSize(h, w, gocv.MatTypeCV32F)
	defer mx.Close()
	defer my.Close()
	vx, err := mx.DataPtrFloat32()
	if err != nil {
		return nil, err
	}
	vy, err := my.DataPtrFloat32()
	if err != nil {
		return nil, err
	}
	for i := range mapX {
		x, y := float64(mapX[i]), float64(mapY[i])
		if !c.holds(x, y) { // also NaN, which OpenCV would turn into any index
			x, y = float64(c.box.Min.X), float64(c.box.Min.Y)
		}
		vx[i] = float32((x-float64(c.box.Min.X)+0.5)*kx - 0.5)
		vy[i] = float32((y-float64(c.box.Min.Y)+0.5)*ky - 0.5)
	}
	dst := gocv.NewMat()
	defer dst.Close()
	gocv.Remap(small, &dst, &mx, &my, gocv.InterpolationLinear, gocv.BorderReplicate, color.RGBA{})
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

func allNaN(n int) []float32 {
	v := make([]float32, n)
	for i := range v {
		v[i] = float32(math.NaN())
	}
	return v
}
