package ink

import "math"

// A photo of a sheet shows two things that a scan does not. The lamp's mirror image adds light to ink and
// paper alike, and over ink that looks like less ink. And the brightest paper may exceed what the picture can
// show, so that the paper about a mark says nothing of the light on it. Gleams are a lattice of broad hills
// of light, since paper is rough; the top is one level. Their parameters follow the bumps'.
const (
	atTop   = bumpy     // ln of the light above which the picture shows no more, over the paper's
	atGleam = bumpy + 1 // light of the hills, over the paper's
	lit     = atGleam + gleams

	gleamColumns, gleamRows = 5, 3
	gleams                  = gleamColumns * gleamRows
	gleamGap                = 50.0 // mm between the hills' middles
	gleamLength             = 50.0 // mm, each hill's standard deviation
	leastShown              = 1e-3 // of light, below which nothing is told apart
	roundTop                = 0.06 // of lightness over which the top is rounded: grain straddles it
)

// brightLight is what is expected of the light in a photo that gleams: ln of light, but for the gleams. All
// of it our assumptions, in round numbers.
var brightLight = struct{ paper, slope, bend, top, gleam about }{
	// over the top, as phones have it that expose for the darker table
	paper: about{0.2, 0.3},
	slope: about{0, 0.1}, bend: about{0, 0.06}, // over 100 and 70 mm
	top:   about{0.1, 0.15},
	gleam: about{0, 0.1},
}

// expectGleams replaces what is expected of the paper's light, and adds what is of the top and the gleams.
func expectGleams(r []expectation) []expectation {
	light := brightLight
	for i := range r {
		switch k := r[i].i - atPaper; {
		case k == 0:
			r[i].mean, r[i].sd = light.paper.mean, light.paper.sd
		case k == 1 || k == 2:
			r[i].sd = light.slope.sd
		case k > 2 && k < 6:
			r[i].sd = light.bend.sd
		}
	}
	r = append(r, expectation{atTop, -1, light.top.mean, light.top.sd})
	for k := range gleams {
		r = append(r, expectation{atGleam + k, -1, light.gleam.mean, light.gleam.sd})
	}
	return r
}

// shine is the height of each hill at each cell, cell by cell.
type shine struct{ height []float64 }

func (c *cells) shine() *shine {
	s := &shine{make([]float64, 0, len(c.x)*gleams)}
	n := len(c.x) - 1
	midX, midY := (c.x[0]+c.x[n])/2, (c.y[0]+c.y[n])/2
	for i := range c.x {
		for k := range gleams {
			dx := c.x[i] - midX - gleamGap*float64(k%gleamColumns-gleamColumns/2)
			dy := c.y[i] - midY - gleamGap*float64(k/gleamColumns-gleamRows/2)
			s.height = append(s.height, math.Exp(-(dx*dx+dy*dy)/(2*gleamLength*gleamLength)))
		}
	}
	return s
}

func (s *shine) heights(i int) []float64 { return s.height[i*gleams : (i+1)*gleams] }

// shown is the lightness that the picture shows of a cell, with its derivatives by the lightness without
// gleam, the top's parameter and the gleam.
type shown struct{ v, byL, byTop, byGleam float64 }

// shown is what the picture shows of cell i where its lightness is l without gleam.
func (s *shine) shown(p []float64, i int, l float64) shown {
	light := math.Pow(l, tone)
	for k, h := range s.heights(i) {
		light += p[atGleam+k] * h
	}
	top := math.Exp(p[atTop] / tone)
	if light < leastShown {
		return shown{v: math.Pow(leastShown, 1/tone)}
	}
	v := math.Pow(light, 1/tone)
	// The lower of v and top, rounded.
	e := math.Exp(math.Min(40, (v-top)/roundTop)) // beyond 40 the two forms differ by nothing
	beyond := e / (1 + e)
	return shown{
		v:       top - roundTop*math.Log1p(1/e),
		byL:     (1 - beyond) * math.Pow(l/v, tone-1),
		byTop:   beyond * top / tone,
		byGleam: (1 - beyond) * math.Pow(v, 1-tone) / tone,
	}
}
