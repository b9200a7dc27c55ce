package reference

import (
	"image"
	"math"
	"math/cmplx"
	"slices"

	"gonum.org/v1/gonum/mat"
)

// graduation is a strip whose phase is known: line n of it lies at place(n).
type graduation struct {
	strip
	phase    []float64 // polynomial in the scaled place: periods since the strip's middle
	low      float64   // px beside the strip: the band in which all lines are seen
	high     float64
	darker   float64 // 1 where the lines are darker than the ground, -1 where lighter
	lean     float64 // px along per px beside: the lines' direction
	from, to int     // numbers of the first and last line
	carrier  carrier // as windows used it last
}

// carrier is the wave that a phase makes, under Hann's window, in windows of length samples that begin at
// every half of it: what the rows beside a strip are all compared with.
type carrier struct {
	of     []float64 // the phase
	length int
	count  int // samples in all
	norm   float64
	hann   []float64
	waves  [][]complex128 // a window each
	mean   []complex128   // the wave's sum
}

// carrierOf is the graduation's carrier over so many samples, made anew where the phase has changed.
func (g *graduation) carrierOf(count, length int) *carrier {
	c := &g.carrier
	if c.length == length && c.count == count && slices.Equal(c.of, g.phase) {
		return c
	}
	*c = carrier{of: slices.Clone(g.phase), length: length, count: count, hann: make([]float64, length)}
	for i := range c.hann {
		c.hann[i] = 0.5 - 0.5*math.Cos(2*math.Pi*(float64(i)+0.5)/float64(length))
		c.norm += c.hann[i]
	}
	turns := make([]complex128, count)
	for i := range turns {
		turns[i] = cmplx.Rect(1, -2*math.Pi*g.periods(g.strip.from+float64(i)))
	}
	for k := 0; k+length <= count; k += length / 2 {
		wave, mean := make([]complex128, length), complex128(0)
		for i, h := range c.hann {
			wave[i] = complex(h, 0) * turns[k+i]
			mean += wave[i]
		}
		c.waves, c.mean = append(c.waves, wave), append(c.mean, mean)
	}
	return c
}

const phaseDegree = 3

// scaled brings a place along the strip to -1 to 1.
func (g *graduation) scaled(t float64) float64 {
	return (2*t - g.strip.from - g.strip.to) / (g.strip.to - g.strip.from)
}

// periods is the phase at a place, in periods.
func (g *graduation) periods(t float64) float64 {
	x, sum := g.scaled(t), 0.0
	for k := len(g.phase) - 1; k >= 0; k-- {
		sum = sum*x + g.phase[k]
	}
	return sum
}

// frequencyAt is the phase's slope, periods per px.
func (g *graduation) frequencyAt(t float64) float64 { return g.periods(t+0.5) - g.periods(t-0.5) }

// place is where the phase is so many periods, by Newton's method.
func (g *graduation) place(periods float64) float64 {
	t := (g.strip.from + g.strip.to) / 2
	for range 30 {
		d := (periods - g.periods(t)) / g.frequencyAt(t)
		if t += d; math.Abs(d) < 1e-4 {
			break
		}
	}
	return t
}

// graduation follows the strip's phase, first by its frequency, then by what is left of it, and finds the
// band of the lines.
func (s strip) graduation(img *image.Gray) (g *graduation, ok bool) {
	g = &graduation{strip: s}
	g.integrate()
	for range 3 {
		if !g.follow(img, 0, 2) {
			return nil, false
		}
	}
	for range 2 {
		if !g.findBand(img) {
			return nil, false
		}
		g.align(img)
	}
	if !g.findBand(img) {
		return nil, false
	}
	mid := (g.low + g.high) / 2
	for range 2 {
		if !g.follow(img, mid, (g.high-g.low)/4) {
			return nil, false
		}
	}
	g.polarity(img, mid)
	g.leaning(img)
	a, b := g.periods(g.strip.from), g.periods(g.strip.to)
	g.from, g.to = int(math.Ceil(math.Min(a, b))), int(math.Floor(math.Max(a, b)))
	return g, g.to-g.from >= leastPeriods
}

// leaning is how far the lines lean along the strip, px per px beside it, in the mean.
func (g *graduation) leaning(img *image.Gray) {
	height := g.high - g.low
	a, b := g.windows(img, g.low+0.25*height, height/5), g.windows(img, g.high-0.25*height, height/5)
	var lean []float64
	for i := range min(len(a), len(b)) {
		turn := cmplx.Phase(b[i].c/a[i].c) / (2 * math.Pi)
		lean = append(lean, -turn/g.frequencyAt(a[i].t)/(height/2))
	}
	if len(lean) > 0 {
		g.lean = median(lean)
	}
}

// integrate is the phase by the windows' frequencies: a line through them, integrated.
func (g *graduation) integrate() {
	x := make([]float64, len(g.at))
	for i, t := range g.at {
		x[i] = g.scaled(t)
	}
	a, b := median(g.frequency), 0.0
	if len(x) > 3 {
		a, b = medianLine(x, g.frequency)
	}
	half := (g.strip.to - g.strip.from) / 2
	g.phase = []float64{0, a * half, b * half / 2, 0}
}

// follow measures what is left of the phase in windows of about ten periods and takes it into the polynomial.
func (g *graduation) follow(img *image.Gray, n, half float64) bool {
	var at, left, weight []float64
	for _, w := range g.windows(img, n, half) {
		at, left, weight = append(at, g.scaled(w.t)), append(left, cmplx.Phase(w.c)/(2*math.Pi)),
			append(weight, cmplx.Abs(w.c))
	}
	if len(at) < 4 {
		return false
	}
	least := 0.3 * median(weight)
	for i := 1; i < len(left); i++ { // unwrap
		left[i] -= math.Round(left[i] - left[i-1])
	}
	degree := min(phaseDegree, len(at)-2)
	add, ok := polynomial(at, left, weight, least, degree)
	if !ok {
		return false
	}
	for k, c := range add {
		g.phase[k] += c
	}
	return true
}

// reading is the strip's signal against the phase, in one window: c's argument is the phase left over.
type reading struct {
	t float64
	c complex128
}

// windows reads the phase along the line n px beside the strip.
func (g *graduation) windows(img *image.Gray, n, half float64) []reading {
	var out []reading
	signal := g.signal(img, g.strip.from, int(g.strip.to-g.strip.from), n, half)
	f := math.Abs(g.frequencyAt((g.strip.from + g.strip.to) / 2))
	length := int(math.Max(24, 10/f))
	by := g.carrierOf(len(signal), length)
	for w, wave := range by.waves {
		k := w * (length / 2)
		var re, im, sum float64
		for i, v := range signal[k : k+length] {
			re, im, sum = re+v*real(wave[i]), im+v*imag(wave[i]), sum+v*by.hann[i]
		}
		if math.IsNaN(sum) { // the window leaves the picture
			continue
		}
		c := complex(re, im) - by.mean[w]*complex(sum/by.norm, 0)
		out = append(out, reading{g.strip.from + float64(k) + float64(length-1)/2, c * complex(2/by.norm, 0)})
	}
	return out
}

// polynomial fits y(x) by weighted least squares, leaving out what weighs less than least and, a second time,
// what is off.
func polynomial(x, y, weight []float64, least float64, degree int) ([]float64, bool) {
	use := make([]bool, len(x))
	for i := range use {
		use[i] = weight[i] >= least
	}
	var c []float64
	for range 3 {
		n := 0
		for _, u := range use {
			if u {
				n++
			}
		}
		if n < degree+2 {
			return nil, false
		}
		a, b := mat.NewDense(n, degree+1, nil), mat.NewVecDense(n, nil)
		r := 0
		for i, u := range use {
			if !u {
				continue
			}
			p := 1.0
			for k := 0; k <= degree; k++ {
				a.Set(r, k, p)
				p *= x[i]
			}
			b.SetVec(r, y[i])
			r++
		}
		var v mat.VecDense
		if v.SolveVec(a, b) != nil {
			return nil, false
		}
		c = v.RawVector().Data
		var off []float64
		for i := range x {
			p, sum := 1.0, 0.0
			for k := range c {
				sum += c[k] * p
				p *= x[i]
			}
			off = append(off, math.Abs(y[i]-sum))
		}
		limit := math.Max(0.02, 4*median(off))
		for i := range use {
			use[i] = weight[i] >= least && off[i] <= limit
		}
	}
	return c, true
}

// mostBand is how high the band is at the most in which all lines are seen, in periods: strokes of 12 mm, or
// of 6 mm where they are half a millimetre apart. On rules they are a third of that (common practice, no
// source).
const mostBand = 12

// findBand finds the rows beside the strip in which all the lines are seen.
func (g *graduation) findBand(img *image.Gray) bool {
	const step = 2.0
	strength := func(n float64) float64 {
		var v []float64
		for _, w := range g.windows(img, n, 1) {
			v = append(v, cmplx.Abs(w.c))
		}
		if len(v) == 0 {
			return 0
		}
		return median(v)
	}
	top, at := 0.0, 0.0
	for n := -16.0; n <= 16; n += step {
		if v := strength(n); v > top {
			top, at = v, n
		}
	}
	g.low, g.high = at, at
	most := mostBand / math.Abs(g.frequencyAt((g.strip.from+g.strip.to)/2))
	for g.high-at < 120 && g.high-g.low <= most && strength(g.high+step) > 0.6*top {
		g.high += step
	}
	for at-g.low < 120 && g.high-g.low <= most && strength(g.low-step) > 0.6*top {
		g.low -= step
	}
	return g.high-g.low >= 3*step && g.high-g.low <= most
}

// align turns and shifts the strip so that it runs along the middle of the band from end to end.
func (g *graduation) align(img *image.Gray) {
	const step = 3.0
	var middle, sum [2]float64
	var rows [2][]float64
	var at []float64
	for n := g.low - 30; n <= g.high+30; n += step {
		var v [2][]float64
		for _, w := range g.windows(img, n, 1) {
			half := 0
			if w.t > (g.strip.from+g.strip.to)/2 {
				half = 1
			}
			v[half] = append(v[half], cmplx.Abs(w.c))
		}
		if len(v[0]) == 0 || len(v[1]) == 0 {
			return
		}
		at = append(at, n)
		rows[0], rows[1] = append(rows[0], median(v[0])), append(rows[1], median(v[1]))
	}
	for half := range rows {
		top := slices.Max(rows[half])
		for i, v := range rows[half] {
			if v > 0.6*top {
				middle[half] += at[i]
				sum[half]++
			}
		}
		middle[half] /= sum[half]
	}
	turn := (middle[1] - middle[0]) / ((g.strip.to - g.strip.from) / 2)
	turn = math.Max(-0.06, math.Min(0.06, turn))
	mid := (g.strip.from + g.strip.to) / 2
	centre := g.point(mid, (middle[0]+middle[1])/2)
	cos, sin := math.Cos(turn), math.Sin(turn)
	g.dx, g.dy = cos*g.dx-sin*g.dy, sin*g.dx+cos*g.dy
	g.ox, g.oy = centre.X-mid*g.dx, centre.Y-mid*g.dy
}

// polarity tells dark lines from light ones, and moves the phase so that whole periods lie on the lines.
func (g *graduation) polarity(img *image.Gray, n float64) {
	bins := make([]float64, 8)
	counts := make([]float64, 8)
	for _, t := range g.samples() {
		v := at(img, g.point(t, n))
		if math.IsNaN(v) {
			continue
		}
		p := g.periods(t)
		k := int(8*(p-math.Floor(p))) % 8
		bins[k] += v
		counts[k]++
	}
	for k := range bins {
		bins[k] /= math.Max(1, counts[k])
	}
	lo, hi, mid := slices.Min(bins), slices.Max(bins), median(bins)
	g.darker = 1
	if hi-mid > mid-lo {
		g.darker = -1
		return
	}
	g.phase[0] -= 0.5 // the fundamental is brightest at whole periods
}

func (g *graduation) samples() []float64 {
	var out []float64
	for t := g.strip.from; t <= g.strip.to; t++ {
		out = append(out, t)
	}
	return out
}
