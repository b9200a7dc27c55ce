// Package raster lays a photo's ln brightness out on the frame's plane, in millimetres, so that several
// photos can be compared point by point.
//
// Its opinion: light multiplies, so brightness is compared as its logarithm; and what is compared is only
// what stands out from its own surroundings, never the brightness itself, which is the lamp's.
//
// What may live here: pictures in, grids on the plane out. What may not: what the grids show.
package raster

import (
	"image"
	"math"
	"sync"

	"gonum.org/v1/gonum/blas/blas32"
)

// Pixel is a point of the upright picture in px; integers are pixel centres.
type Pixel struct{ X, Y float64 }

// Point is a point of the frame's plane in mm, y down.
type Point struct{ X, Y float64 }

// Window is the part of the frame's plane that is looked at, and where it lies in the picture.
type Window struct {
	HalfWidth, HalfHeight float64                  // mm about the plane's origin
	Place                 func(x, y float64) Pixel // of a point of the plane, mm
	Sample                float64                  // ground sample distance at the middle, mm/px
}

// Step is the raster's, mm.
const Step = 0.25

// Raster is the window's ln brightness on a grid of Step mm, row by row.
type Raster struct {
	Window        Window
	Corner        Point // mm, of the first cell: the window's, but for a part that was cut out
	Columns, Rows int
	Ln            []float32
}

// Ln is ln brightness by grey level; 4 is the noise of black, so that its logarithm stays calm.
var Ln = func() (t [256]float32) {
	for v := range t {
		t[v] = float32(math.Log(float64(v) + 4))
	}
	return t
}()

// Of samples the window. It returns nil where less than half of it lies in the picture.
func Of(grey *image.Gray, w Window) *Raster {
	r := &Raster{Window: w, Corner: Point{-w.HalfWidth, -w.HalfHeight},
		Columns: int(2 * w.HalfWidth / Step), Rows: int(2 * w.HalfHeight / Step)}
	r.Ln = make([]float32, r.Columns*r.Rows)
	outside := 0
	reach := max(1, int(math.Round(Step/w.Sample))) // px that a sample averages over
	for j := range r.Rows {
		for i := range r.Columns {
			p := r.At(float64(i), float64(j))
			v, ok := meanAround(grey, w.Place(p.X, p.Y), reach)
			if !ok {
				outside++
			}
			r.Ln[j*r.Columns+i] = v
		}
	}
	if 2*outside > len(r.Ln) {
		return nil
	}
	return r
}

// meanAround is the mean ln brightness over n x n pixels, bilinear where n is 1.
func meanAround(grey *image.Gray, p Pixel, n int) (float32, bool) {
	b := grey.Bounds()
	if !(p.X >= float64(n) && p.Y >= float64(n) && p.X < float64(b.Dx()-1-n) && p.Y < float64(b.Dy()-1-n)) {
		return Ln[0], false
	}
	if n > 1 {
		x0, y0 := int(p.X+0.5)-n/2, int(p.Y+0.5)-n/2
		var sum float32
		for y := y0; y < y0+n; y++ {
			row := grey.Pix[y*grey.Stride+x0:]
			for x := range n {
				sum += Ln[row[x]]
			}
		}
		return sum / float32(n*n), true
	}
	x, y := math.Floor(p.X), math.Floor(p.Y)
	fx, fy := float32(p.X-x), float32(p.Y-y)
	at := int(y)*grey.Stride + int(x)
	a, c := grey.Pix[at:at+2], grey.Pix[at+grey.Stride:at+grey.Stride+2]
	top := Ln[a[0]]*(1-fx) + Ln[a[1]]*fx
	bottom := Ln[c[0]]*(1-fx) + Ln[c[1]]*fx
	return top*(1-fy) + bottom*fy, true
}

// At is a place of the raster, in its cells, on the plane.
func (r *Raster) At(i, j float64) Point {
	return Point{(i+0.5)*Step + r.Corner.X, (j+0.5)*Step + r.Corner.Y}
}

// block is how many cells a part begins at a multiple of: of as many as Blur lays together, 2 and 3 for the
// widths in use, so that it lays them in a part as in the whole.
const block = 6

// Cut is the part of a raster from one place to another; what of that lies outside is left out.
func (r *Raster) Cut(from, to Point) *Raster {
	span := func(from, to, corner float64, n int) (first, end int) {
		at := func(v float64) int { return int(math.Floor((v - corner) / (block * Step))) }
		first = min(max(at(from)*block, 0), (n-1)/block*block)
		return first, min(max((at(to)+1)*block, first+1), n)
	}
	left, right := span(from.X, to.X, r.Corner.X, r.Columns)
	top, bottom := span(from.Y, to.Y, r.Corner.Y, r.Rows)
	c := &Raster{Window: r.Window, Columns: right - left, Rows: bottom - top,
		Corner: Point{r.Corner.X + float64(left)*Step, r.Corner.Y + float64(top)*Step}}
	for j := top; j < bottom; j++ {
		c.Ln = append(c.Ln, r.Ln[j*r.Columns+left:j*r.Columns+right]...)
	}
	return c
}

// wide is the standard deviation in cells from which a Gaussian is as well drawn on cells of twice the size.
const wide = 9.0

// Blur convolves with a Gaussian of sigma cells, separably; the rim repeats. A wide one is laid over larger
// cells, of which sigma then has four to six, and read off between them.
func Blur(in []float32, columns, rows int, sigma float64) []float32 {
	if sigma < wide {
		return blur(in, columns, rows, sigma)
	}
	size := int(sigma / (wide / 2))
	c := coarserOf(in, columns, rows, size)
	// Means over cells and lines between them blur, too: by these variances (of a box, of a triangle).
	k := float64(size)
	rest := math.Sqrt(sigma*sigma - (k*k-1)/12 - k*k/6)
	c.v = blur(c.v, c.columns, c.rows, rest/k)
	return c.finer(columns, rows)
}

// coarser is a grid of cells of size x size others.
type coarser struct {
	size, columns, rows int
	v                   []float32
}

// coarserOf takes the means; the last column and row take what is left.
func coarserOf(in []float32, columns, rows, size int) coarser {
	c := coarser{size: size, columns: (columns + size - 1) / size, rows: (rows + size - 1) / size}
	c.v = make([]float32, c.columns*c.rows)
	for j := range c.rows {
		out := c.v[j*c.columns : (j+1)*c.columns]
		high := min(size, rows-j*size)
		for y := j * size; y < j*size+high; y++ {
			for i, row := 0, in[y*columns:(y+1)*columns]; i < c.columns; i++ {
				part := row[i*size : min((i+1)*size, columns)]
				for _, v := range part {
					out[i] += v / float32(len(part)*high)
				}
			}
		}
	}
	return c
}

// finer reads the grid off at the places of the finer cells, bilinear.
func (c coarser) finer(columns, rows int) []float32 {
	out := make([]float32, columns*rows)
	across := make([][]float32, c.rows)
	for j := range across {
		across[j] = make([]float32, columns)
		for i := range columns {
			k, f := c.between(i, c.columns)
			row := c.v[j*c.columns:]
			across[j][i] = row[k] + f*(row[min(k+1, c.columns-1)]-row[k])
		}
	}
	for j := range rows {
		k, f := c.between(j, c.rows)
		to := out[j*columns : (j+1)*columns]
		addTo(to, 1-f, across[k])
		addTo(to, f, across[min(k+1, c.rows-1)])
	}
	return out
}

// between is the coarse cell before a fine one's middle, and how far on to the next that lies.
func (c coarser) between(fine, n int) (k int, part float32) {
	at := max(0, (float32(fine)+0.5)/float32(c.size)-0.5)
	k = min(int(at), n-1)
	return k, at - float32(k)
}

// scratch holds what blurs leave behind: new memory is cleared by the kernel, page by page, for longer than a
// narrow blur takes.
var scratch sync.Pool

// blur convolves cell by cell.
func blur(in []float32, columns, rows int, sigma float64) []float32 {
	half := int(math.Ceil(3 * sigma))
	kernel := make([]float32, 2*half+1)
	var sum float32
	for i := range kernel {
		d := float64(i - half)
		kernel[i] = float32(math.Exp(-d * d / (2 * sigma * sigma)))
		sum += kernel[i]
	}
	for i := range kernel {
		kernel[i] /= sum
	}
	between, _ := scratch.Get().(*[]float32)
	if between == nil || cap(*between) < len(in) {
		between = new(make([]float32, len(in)))
	}
	defer scratch.Put(between)
	across := (*between)[:len(in)]
	clear(across)
	padded := make([]float32, columns+2*half)
	for j := range rows {
		row := in[j*columns : (j+1)*columns]
		for i := range padded {
			padded[i] = row[min(max(i-half, 0), columns-1)]
		}
		out := across[j*columns : (j+1)*columns]
		for k, w := range kernel {
			addTo(out, w, padded[k:k+columns])
		}
	}
	down := make([]float32, len(in))
	for j := range rows {
		out := down[j*columns : (j+1)*columns]
		for k, w := range kernel {
			row := min(max(j+k-half, 0), rows-1)
			addTo(out, w, across[row*columns:(row+1)*columns])
		}
	}
	return down
}

// addTo adds w times a row to another.
func addTo(out []float32, w float32, row []float32) {
	blas32.Axpy(w, blas32.Vector{N: len(row), Inc: 1, Data: row}, blas32.Vector{N: len(out), Inc: 1, Data: out})
}
