package tone

import (
	"math"

	"sitspan/imprint/internal/rank"
)

const (
	// Of IEC 61966-2-1's curve: light goes as (level + foot)^2.4, but for the darkest levels.
	foot      = 0.055
	burnt     = 0.97 // level from which a spot says nothing of the tone
	cut       = 3.5  // robust standard deviations from which a spot shows something else: words, dirt
	madToSD   = 1.48
	fewest    = 60    // spots of a paint, below which it is not used
	leastSD   = 0.001 // of levels: a quarter of one in 255
	smoothing = 4     // times that spots are cut
)

// Spot is a place of the frame, and the places in the picture that show it, the first its middle.
type Spot struct {
	X, Y float64 // on the frame, mm
	At   []Pixel
}

// paint are the spots of one paint, white or black: how far each is off what smooth light makes of it.
type paint struct {
	spots  []Spot
	level  []float64
	smooth []float64   // levels that light makes, ln of which is a quadratic over the frame
	rest   []float64   // levels above those
	use    []bool      // neither burnt out nor cut
	basis  [][]float64 // what a small change of that light would do, orthonormal over the spots in use
	sd     float64     // of the rest, by its median
}

// newPaint lays smooth light through the spots, each read as the level that a share of its places stay below;
// false where too few of them can be used.
func newPaint(spots []Spot, picture plane, share float64) (*paint, bool) {
	p := &paint{}
	for _, s := range spots {
		if v := s.level(picture, share); v > 0 && v < burnt {
			p.spots, p.level = append(p.spots, s), append(p.level, v)
		}
	}
	n := len(p.spots)
	p.smooth, p.rest, p.use = make([]float64, n), make([]float64, n), make([]bool, n)
	flat := make([]float64, n)
	for i := range p.use {
		p.use[i], flat[i] = true, 1
	}
	for range smoothing {
		if p.count() < fewest {
			return nil, false
		}
		p.span(flat)
		p.lightThrough()
		p.sd = p.cutBy(p.rest)
	}
	weight := make([]float64, n)
	for i, v := range p.smooth {
		weight[i] = v + foot
	}
	p.span(weight)
	return p, p.count() >= fewest
}

// level is the level that a share of the spot's places stay below, 0 where one is outside the picture.
func (s Spot) level(picture plane, share float64) float64 {
	v := make([]float64, len(s.At))
	for i, q := range s.At {
		if !picture.holds(q) {
			return 0
		}
		v[i] = picture.at(q)
	}
	return rank.Quantile(v, share)
}

// lightThrough fits ln of light, up to its factor, by a quadratic; the basis must be that of plain ones.
func (p *paint) lightThrough() {
	l := make([]float64, len(p.spots))
	for i, v := range p.level {
		l[i] = math.Log(v + foot)
	}
	off := p.without(l)
	for i, v := range p.level {
		p.smooth[i] = math.Exp(l[i]-off[i]) - foot
		p.rest[i] = v - p.smooth[i]
	}
}

// span makes the basis: weighted quadratics over the frame, by Gram and Schmidt's process, twice, which is
// enough for double precision.
func (p *paint) span(weight []float64) {
	p.basis = make([][]float64, 0, 6)
	for k := range 6 {
		b := make([]float64, len(p.spots))
		for i, s := range p.spots {
			x, y := s.X/100, s.Y/70
			b[i] = weight[i] * [6]float64{1, x, y, x * x, y * y, x * y}[k]
		}
		b = p.without(p.without(b))
		n := math.Sqrt(p.dot(b, b))
		for i := range b {
			b[i] /= n
		}
		p.basis = append(p.basis, b)
	}
}

// without is v less what light could make of it.
func (p *paint) without(v []float64) []float64 {
	r := append([]float64(nil), v...)
	for _, b := range p.basis {
		d := p.dot(r, b)
		for i, x := range b {
			r[i] -= d * x
		}
	}
	return r
}

func (p *paint) dot(a, b []float64) (s float64) {
	for i, use := range p.use {
		if use {
			s += a[i] * b[i]
		}
	}
	return s
}

// cutBy sets which spots are used by how far each is off, and returns the robust standard deviation.
func (p *paint) cutBy(off []float64) float64 {
	var size []float64
	for i, use := range p.use {
		if use {
			size = append(size, math.Abs(off[i]))
		}
	}
	sd := math.Max(leastSD, madToSD*rank.Median(size))
	for i := range p.use {
		p.use[i] = math.Abs(off[i]) < cut*sd
	}
	return sd
}

func (p *paint) count() (n int) {
	for _, use := range p.use {
		if use {
			n++
		}
	}
	return n
}
