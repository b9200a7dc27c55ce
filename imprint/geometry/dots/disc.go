package dots

import (
	"image"
	"math"

	"gonum.org/v1/gonum/blas"
	"gonum.org/v1/gonum/blas/blas64"

	"sitspan/imprint/geometry/raster"
	"sitspan/imprint/internal/normal"
)

// samples are the pixels near a dot.
type samples struct {
	e  ellipse
	ln []float64 // their ln brightness
	// by is what the model there changes by, a row a parameter. Those of the offset from the start in px and of
	// the level stay as they are: offsets and ones.
	by blas64.General
	// off is what the model leaves of ln.
	off []float64
}

// gather reads the pixels within reach mm of a place of the picture; nil where they are not all in it.
func gather(grey *image.Gray, e ellipse, start Pixel, reach float64) *samples {
	b := grey.Bounds()
	half := int(math.Ceil(1.6 * reach / e.px))
	x0, y0 := int(math.Round(start.X)), int(math.Round(start.Y))
	if x0-half < 0 || y0-half < 0 || x0+half >= b.Dx() || y0+half >= b.Dy() {
		return nil
	}
	every := 1
	for float64(every*every)*mostSamples < math.Pi*reach*reach/(e.px*e.px) {
		every++
	}
	side := 2*half/every + 1
	xs, ys, ln := make([]float64, 0, side*side), make([]float64, 0, side*side), make([]float64, 0, side*side)
	for y := y0 - half; y <= y0+half; y += every {
		for x := x0 - half; x <= x0+half; x += every {
			dx, dy := float64(x)-start.X, float64(y)-start.Y
			mx, my := e.a*dx+e.b*dy, e.c*dx+e.d*dy
			if mx*mx+my*my <= reach*reach {
				xs, ys = append(xs, dx), append(ys, dy)
				ln = append(ln, float64(raster.Ln[grey.Pix[y*grey.Stride+x]]))
			}
		}
	}
	n := len(ln)
	s := &samples{e: e, ln: ln, off: make([]float64, n)}
	s.by = blas64.General{Rows: parameters, Cols: n, Stride: max(1, n), Data: make([]float64, parameters*n)}
	copy(s.row(pSlopeX), xs)
	copy(s.row(pSlopeY), ys)
	level := s.row(pLevel)
	for i := range level {
		level[i] = 1
	}
	return s
}

func (s *samples) row(parameter int) []float64 {
	return s.by.Data[parameter*s.by.Stride:][:s.by.Cols]
}

func (s *samples) meanLn() (mean float64) {
	for _, v := range s.ln {
		mean += v / float64(len(s.ln))
	}
	return mean
}

// rimReach is how far beyond the rim a dot is looked for, in blurs: there 3e-7 of it is left.
const rimReach = 5.0

// model puts what the disc leaves of the samples into off, and its derivatives into by.
func (s *samples) model(at *[parameters]float64) {
	n := len(s.ln)
	dxs, dys, off := s.row(pSlopeX)[:n], s.row(pSlopeY)[:n], s.off[:n]
	byX, byY, byRadius := s.row(pX)[:n], s.row(pY)[:n], s.row(pRadius)[:n]
	byBlur, in := s.row(pBlur)[:n], s.row(pContrast)[:n]
	// px, as if seen straight from above
	a, b, c, d := s.e.a/s.e.px, s.e.b/s.e.px, s.e.c/s.e.px, s.e.d/s.e.px
	contrast, perBlur := at[pContrast], 1/at[pBlur]
	beyond := at[pRadius] + rimReach*at[pBlur]
	for i, ln := range s.ln {
		dx, dy := dxs[i], dys[i]
		r := ln - (at[pLevel] + at[pSlopeX]*dx + at[pSlopeY]*dy)
		mx, my := a*(dx-at[pX])+b*(dy-at[pY]), c*(dx-at[pX])+d*(dy-at[pY])
		square := mx*mx + my*my
		if square >= beyond*beyond {
			byX[i], byY[i], byRadius[i], byBlur[i], in[i], off[i] = 0, 0, 0, 0, 0, r
			continue
		}
		rho := math.Sqrt(square)
		t := (at[pRadius] - rho) * perBlur
		v, density := normal.Of(t)
		density *= contrast * perBlur
		in[i], off[i] = v, r-contrast*v
		byRadius[i], byBlur[i] = density, -density*t
		byX[i], byY[i] = 0, 0
		if rho > 1e-9 { // d rho / d(centre) is minus that by the offset
			density /= rho
			byX[i], byY[i] = density*(mx*a+my*c), density*(mx*b+my*d)
		}
	}
}

// equations are the normal equations of one dot, row by row and of the matrix the upper triangle, and its sum
// of squares.
type equations struct {
	n     [parameters * parameters]float64
	right [parameters]float64
	loss  float64
}

// equations sets them up at the parameters given.
func (s *samples) equations(at *[parameters]float64) (q equations) {
	s.model(at)
	off := vector(s.off)
	blas64.Syrk(blas.NoTrans, 1, s.by, 0, symmetric(&q.n))
	blas64.Gemv(blas.NoTrans, 1, s.by, off, 0, vector(q.right[:]))
	q.loss = blas64.Dot(off, off)
	return q
}

func vector(v []float64) blas64.Vector { return blas64.Vector{N: len(v), Inc: 1, Data: v} }

// hopeless is the contrast, in standard deviations of the residuals, below which a fit on its way is given
// up: so much after the first step, and hopelessMore more after each. In the end it takes leastClear of them.
// Of 11,830 dots in 33 photos none was ever below. Of the 15,600 spots that were fitted to their end and were
// none, a third is after the first step.
const (
	hopeless     = 1.2
	hopelessMore = 0.05
)

// solve is a damped Gauss-Newton fit of the disc. It returns the residuals' standard deviation in ln
// brightness and the standard uncertainty of the centre in px (the larger coordinate's).
func (s *samples) solve(at *[parameters]float64) (sd, u float64, ok bool) {
	damping, freedom := 1e-3, float64(len(s.ln)-parameters)
	now, enough := s.equations(at), hopeless
	for range 12 {
		move, solvable := now.step(damping)
		if !solvable {
			return 0, 0, false
		}
		next := *at
		for k := range parameters {
			next[k] += move[k]
		}
		next[pBlur] = math.Min(math.Max(next[pBlur], 0.35), 0.8*next[pRadius]+0.35)
		if !(next[pRadius] > 0.5) {
			return 0, 0, false
		}
		then := s.equations(&next)
		if !(then.loss < now.loss) {
			if damping *= 10; damping > 1e4 {
				break
			}
			continue
		}
		small := math.Hypot(move[pX], move[pY]) < 3e-3 && now.loss-then.loss < 1e-3*now.loss
		*at, now, damping = next, then, damping/10
		if math.Abs(at[pContrast]) < enough*math.Sqrt(now.loss/freedom) {
			return 0, 0, false
		}
		enough += hopelessMore
		if small {
			break
		}
	}
	variance := now.loss / freedom
	x, y, solvable := now.variances()
	if !solvable {
		return 0, 0, false
	}
	u = math.Sqrt(variance * math.Max(x, y))
	return math.Sqrt(variance), u, !math.IsNaN(u)
}
