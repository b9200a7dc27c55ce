package dots

import (
	"image"
	"math"

	"sitspan/imprint/geometry/raster"
)

// The fitted disc: ln brightness = level + slopes + contrast x S, with S = 1 inside and 0 outside, the edge
// being a blurred step. Parameters in the picture's px about the start.
const (
	pX = iota
	pY
	pRadius   // px, of the circle in the plane, scaled to the picture
	pBlur     // px, standard deviation of the edge
	pContrast // ln
	pLevel    // ln
	pSlopeX   // ln per px
	pSlopeY
	parameters
)

// ellipse carries an offset in the picture, px, to the plane, mm: there the dot is a circle.
type ellipse struct{ a, b, c, d, px float64 } // mm = (a b; c d) px; px is the mm that one px covers, mean

func localEllipse(w raster.Window, at Point) (ellipse, Pixel, bool) {
	const h = 0.5
	p, px, py := w.Place(at.X, at.Y), w.Place(at.X+h, at.Y), w.Place(at.X, at.Y+h)
	ax, ay, bx, by := (px.X-p.X)/h, (px.Y-p.Y)/h, (py.X-p.X)/h, (py.Y-p.Y)/h
	det := ax*by - bx*ay
	if !(math.Abs(det) > 1e-9) {
		return ellipse{}, p, false
	}
	return ellipse{by / det, -bx / det, -ay / det, ax / det, 1 / math.Sqrt(math.Abs(det))}, p, true
}

// sample is a pixel near a dot: its offset from the start in px, and its ln brightness.
type sample struct{ dx, dy, ln float64 }

// reachRadii is how far the fit looks, in radii: far enough to see the surroundings, short of the next dot.
const reachRadii = 2.1

// mostSamples bounds the pixels of one fit: of a picture of many megapixels every second or third line
// serves.
const mostSamples = 500

// fitDot fits a disc at a spot on the photo's own pixels.
func fitDot(grey *image.Gray, w raster.Window, s spot) (Dot, bool) {
	e, start, ok := localEllipse(w, s.at)
	if !ok {
		return Dot{}, false
	}
	radius := s.sigma * math.Sqrt2
	samples := gather(grey, e, start, reachRadii*math.Max(radius, 0.8))
	if len(samples) < 3*parameters {
		return Dot{}, false
	}
	at := [parameters]float64{pRadius: radius / e.px, pBlur: 0.8, pContrast: -2 * s.response,
		pLevel: meanLn(samples)}
	sd, u, ok := solveDisc(samples, e, &at)
	if !ok {
		return Dot{}, false
	}
	d := Dot{
		Pixel:    Pixel{X: start.X + at[pX], Y: start.Y + at[pY]},
		U:        u,
		Point:    Point{X: s.at.X + e.a*at[pX] + e.b*at[pY], Y: s.at.Y + e.c*at[pX] + e.d*at[pY]},
		RadiusMM: at[pRadius] * e.px,
		Contrast: at[pContrast],
	}
	moved := math.Hypot(d.Point.X-s.at.X, d.Point.Y-s.at.Y)
	inside := math.Abs(d.Point.X) < w.HalfWidth-edge-d.RadiusMM &&
		math.Abs(d.Point.Y) < w.HalfHeight-edge-d.RadiusMM
	good := d.RadiusMM > leastRadius && d.RadiusMM < mostRadius && math.Abs(d.Contrast) > leastContrast &&
		moved < radius && inside && math.Abs(d.Contrast) > 2.5*sd && u < 0.5*at[pRadius]
	return d, good
}

// gather reads the pixels within reach mm of a place of the picture.
func gather(grey *image.Gray, e ellipse, start Pixel, reach float64) (samples []sample) {
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
	for y := y0 - half; y <= y0+half; y += every {
		for x := x0 - half; x <= x0+half; x += every {
			dx, dy := float64(x)-start.X, float64(y)-start.Y
			mx, my := e.a*dx+e.b*dy, e.c*dx+e.d*dy
			if mx*mx+my*my <= reach*reach {
				samples = append(samples, sample{dx, dy, float64(raster.Ln[grey.Pix[y*grey.Stride+x]])})
			}
		}
	}
	return samples
}

func meanLn(samples []sample) (mean float64) {
	for _, s := range samples {
		mean += s.ln / float64(len(samples))
	}
	return mean
}

// The normal distribution and its density, tabulated: a fit asks for them millions of times.
const (
	tableReach = 5.0
	tableSteps = 2048
)

var normalTable = func() (t [tableSteps + 2][2]float64) {
	for i := range t {
		x := (2*float64(i)/tableSteps - 1) * tableReach
		t[i] = [2]float64{0.5 * math.Erfc(-x/math.Sqrt2), math.Exp(-x*x/2) / math.Sqrt(2*math.Pi)}
	}
	return t
}()

// normal is the normal distribution and its density, to 2e-6 (linear between steps of 0.005).
func normal(x float64) (below, density float64) {
	at := (x + tableReach) * tableSteps / (2 * tableReach)
	switch {
	case at <= 0:
		return 0, 0
	case at >= tableSteps:
		return 1, 0
	}
	i := int(at)
	f := at - float64(i)
	a, b := &normalTable[i], &normalTable[i+1]
	return a[0] + f*(b[0]-a[0]), a[1] + f*(b[1]-a[1])
}

// equations are the normal equations of one dot, and its sum of squares.
type equations struct {
	n     [parameters][parameters]float64
	right [parameters]float64
	loss  float64
}

// solveDisc is a damped Gauss-Newton fit of the disc. It returns the residuals' standard deviation in ln
// brightness and the standard uncertainty of the centre in px (the larger coordinate's).
func solveDisc(samples []sample, e ellipse, at *[parameters]float64) (sd, u float64, ok bool) {
	damping := 1e-3
	now := equationsOf(samples, e, at)
	for range 12 {
		damped := now.n
		for k := range parameters {
			damped[k][k] *= 1 + damping
		}
		l, solvable := factor(&damped)
		if !solvable {
			return 0, 0, false
		}
		move := solved(&l, now.right)
		next := *at
		for k := range parameters {
			next[k] += move[k]
		}
		next[pBlur] = math.Min(math.Max(next[pBlur], 0.35), 0.8*next[pRadius]+0.35)
		if !(next[pRadius] > 0.5) {
			return 0, 0, false
		}
		then := equationsOf(samples, e, &next)
		if !(then.loss < now.loss) {
			if damping *= 10; damping > 1e4 {
				break
			}
			continue
		}
		small := math.Hypot(move[pX], move[pY]) < 3e-3 && now.loss-then.loss < 1e-3*now.loss
		*at, now, damping = next, then, damping/10
		if small {
			break
		}
	}
	variance := now.loss / float64(len(samples)-parameters)
	l, solvable := factor(&now.n)
	if !solvable {
		return 0, 0, false
	}
	x, y := solved(&l, [parameters]float64{pX: 1}), solved(&l, [parameters]float64{pY: 1})
	u = math.Sqrt(variance * math.Max(x[pX], y[pY])) // of the inverse's diagonal
	return math.Sqrt(variance), u, !math.IsNaN(u)
}

func equationsOf(samples []sample, e ellipse, at *[parameters]float64) (q equations) {
	// Offsets in the plane, px, are linear in those in the picture; the level's line in them, too.
	a, b, c, d := e.a/e.px, e.b/e.px, e.c/e.px, e.d/e.px
	level, contrast, radius, blur := at[pLevel], at[pContrast], at[pRadius], at[pBlur]
	n := &q.n
	for i := range samples {
		s := &samples[i]
		dx, dy := s.dx-at[pX], s.dy-at[pY]
		mx, my := a*dx+b*dy, c*dx+d*dy // px, as if seen straight from above
		rho := math.Sqrt(mx*mx + my*my)
		t := (radius - rho) / blur
		v, density := normal(t)
		density *= contrast / blur
		var byX, byY float64 // d rho / d(centre) is minus that by the offset
		if rho > 1e-9 {
			byX, byY = density*(mx*a+my*c)/rho, density*(mx*b+my*d)/rho
		}
		byBlur := -density * t
		r := s.ln - (level + at[pSlopeX]*s.dx + at[pSlopeY]*s.dy + contrast*v)
		q.loss += r * r
		// The lower triangle, written out: loops over its 36 sums take twice the time.
		n[0][0] += byX * byX
		q.right[0] += byX * r
		n[1][0] += byY * byX
		n[1][1] += byY * byY
		q.right[1] += byY * r
		n[2][0] += density * byX
		n[2][1] += density * byY
		n[2][2] += density * density
		q.right[2] += density * r
		n[3][0] += byBlur * byX
		n[3][1] += byBlur * byY
		n[3][2] += byBlur * density
		n[3][3] += byBlur * byBlur
		q.right[3] += byBlur * r
		n[4][0] += v * byX
		n[4][1] += v * byY
		n[4][2] += v * density
		n[4][3] += v * byBlur
		n[4][4] += v * v
		q.right[4] += v * r
		n[5][0] += byX
		n[5][1] += byY
		n[5][2] += density
		n[5][3] += byBlur
		n[5][4] += v
		n[5][5] += 1
		q.right[5] += r
		n[6][0] += s.dx * byX
		n[6][1] += s.dx * byY
		n[6][2] += s.dx * density
		n[6][3] += s.dx * byBlur
		n[6][4] += s.dx * v
		n[6][5] += s.dx
		n[6][6] += s.dx * s.dx
		q.right[6] += s.dx * r
		n[7][0] += s.dy * byX
		n[7][1] += s.dy * byY
		n[7][2] += s.dy * density
		n[7][3] += s.dy * byBlur
		n[7][4] += s.dy * v
		n[7][5] += s.dy
		n[7][6] += s.dy * s.dx
		n[7][7] += s.dy * s.dy
		q.right[7] += s.dy * r
	}
	for i := range parameters {
		for k := range i {
			n[k][i] = n[i][k]
		}
	}
	return q
}
