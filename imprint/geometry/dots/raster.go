package dots

import (
	"image"
	"math"
	"slices"
)

// raster is the window's ln brightness on a grid of step mm, row by row.
type raster struct {
	w             Window
	columns, rows int
	ln            []float32
}

// spot is a place that looks like a dot.
type spot struct {
	at       Point
	sigma    float64 // mm, of the filter that answered most: the radius is some 1.4 times that
	response float64 // of the filter, in ln brightness; positive for dark spots
}

// lnTable is ln brightness by grey level; 4 is the noise of black, so that its logarithm stays calm.
var lnTable = func() (t [256]float32) {
	for v := range t {
		t[v] = float32(math.Log(float64(v) + 4))
	}
	return t
}()

// rasterise samples the window. It returns nil where less than half of it lies in the picture.
func rasterise(grey *image.Gray, w Window) *raster {
	r := &raster{w: w, columns: int(2 * w.HalfWidth / step), rows: int(2 * w.HalfHeight / step)}
	r.ln = make([]float32, r.columns*r.rows)
	outside := 0
	reach := max(1, int(math.Round(step/w.Sample))) // px that a sample averages over
	for j := range r.rows {
		for i := range r.columns {
			p := r.point(float64(i), float64(j))
			px := w.Place(p.X, p.Y)
			v, ok := meanAround(grey, px, reach)
			if !ok {
				outside++
			}
			r.ln[j*r.columns+i] = v
		}
	}
	if 2*outside > len(r.ln) {
		return nil
	}
	return r
}

// meanAround is the mean ln brightness over n x n pixels, bilinear where n is 1.
func meanAround(grey *image.Gray, p Pixel, n int) (float32, bool) {
	b := grey.Bounds()
	if !(p.X >= float64(n) && p.Y >= float64(n) && p.X < float64(b.Dx()-1-n) && p.Y < float64(b.Dy()-1-n)) {
		return lnTable[0], false
	}
	if n > 1 {
		x0, y0 := int(p.X+0.5)-n/2, int(p.Y+0.5)-n/2
		var sum float32
		for y := y0; y < y0+n; y++ {
			row := grey.Pix[y*grey.Stride+x0:]
			for x := range n {
				sum += lnTable[row[x]]
			}
		}
		return sum / float32(n*n), true
	}
	x, y := math.Floor(p.X), math.Floor(p.Y)
	fx, fy := float32(p.X-x), float32(p.Y-y)
	at := int(y)*grey.Stride + int(x)
	a, c := grey.Pix[at:at+2], grey.Pix[at+grey.Stride:at+grey.Stride+2]
	top := lnTable[a[0]]*(1-fx) + lnTable[a[1]]*fx
	bottom := lnTable[c[0]]*(1-fx) + lnTable[c[1]]*fx
	return top*(1-fy) + bottom*fy, true
}

// point is a place of the raster, in its cells, on the plane.
func (r *raster) point(i, j float64) Point {
	return Point{(i+0.5)*step - r.w.HalfWidth, (j+0.5)*step - r.w.HalfHeight}
}

// sigmas are the filters' scales in mm: a disc of radius r answers most at r / sqrt 2 (Lindeberg, Int. J. Computer
// Vision 30 (1998) 79, for the Laplacian; from memory).
var sigmas = []float64{0.35, 0.5, 0.7, 1.0, 1.4, 2.0}

// spots are the extrema over place and scale of the difference of Gaussians, clearest first.
func (r *raster) spots() []spot {
	var levels [][]float32
	for _, s := range sigmas {
		levels = append(levels, blur(r.ln, r.columns, r.rows, s/step))
	}
	answers := make([][]float32, len(levels)-1)
	for k := range answers {
		answers[k] = make([]float32, len(r.ln))
		for i := range r.ln {
			answers[k][i] = levels[k+1][i] - levels[k][i]
		}
	}
	var found []spot
	for k := range answers {
		found = append(found, r.extrema(answers, k)...)
	}
	slices.SortFunc(found, func(a, b spot) int {
		switch x, y := math.Abs(a.response), math.Abs(b.response); {
		case x > y:
			return -1
		case x < y:
			return 1
		}
		return 0
	})
	return found[:min(len(found), mostDots)]
}

// extrema are those of one scale: beyond all eight neighbours, and the nearest at the scales beside.
func (r *raster) extrema(answers [][]float32, k int) (found []spot) {
	a, least := answers[k], float32(leastContrast/3) // a disc's answer is a third of its contrast, roughly
	const rim = 4
	for j := rim; j < r.rows-rim; j++ {
		for i := rim; i < r.columns-rim; i++ {
			at := j*r.columns + i
			v := a[at]
			if v > -least && v < least {
				continue
			}
			if !r.beyond(a, at, v, false) || k > 0 && !r.beyond(answers[k-1], at, v, true) ||
				k+1 < len(answers) && !r.beyond(answers[k+1], at, v, true) {
				continue
			}
			found = append(found, spot{r.point(float64(i), float64(j)), sigmas[k] * 1.2, float64(v)})
		}
	}
	return found
}

// beyond tells whether v is further from zero than all around a place.
func (r *raster) beyond(a []float32, at int, v float32, centre bool) bool {
	sign := float32(1)
	if v < 0 {
		sign = -1
	}
	for dj := -1; dj <= 1; dj++ {
		for di := -1; di <= 1; di++ {
			if di == 0 && dj == 0 && !centre {
				continue
			}
			if sign*a[at+dj*r.columns+di] >= sign*v {
				return false
			}
		}
	}
	return true
}

// blur convolves with a Gaussian of sigma cells, separably; the rim repeats.
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
	across := make([]float32, len(in))
	padded := make([]float32, columns+2*half)
	for j := range rows {
		row := in[j*columns : (j+1)*columns]
		for i := range padded {
			padded[i] = row[min(max(i-half, 0), columns-1)]
		}
		out := across[j*columns : (j+1)*columns]
		for k, w := range kernel {
			for i, v := range padded[k : k+columns] {
				out[i] += w * v
			}
		}
	}
	down := make([]float32, len(in))
	for j := range rows {
		out := down[j*columns : (j+1)*columns]
		for k, w := range kernel {
			row := min(max(j+k-half, 0), rows-1)
			for i, v := range across[row*columns : (row+1)*columns] {
				out[i] += w * v
			}
		}
	}
	return down
}
