package tone

import (
	"cmp"
	"math"
	"slices"
)

// law is how a level v changes where the surroundings are b: by its value, times the strength.
type law struct {
	light bool // the surroundings are of light, not of levels
	of    func(v, b float64) float64
}

// laws are what a phone may do: draw levels toward a middle one, multiply them by a power of the level
// around, or multiply light by a power of the light around. Each is a common form of local tone (from memory,
// no source seen). Those of levels come first.
var (
	laws = []law{
		{of: func(_, b float64) float64 { return -b }},
		{of: func(v, b float64) float64 { return -v * math.Log(math.Max(b, 0.02)) }},
		{light: true, of: func(v, b float64) float64 { return -(v + foot) * math.Log(math.Max(b, 0.002)) }},
	}
	ofLevels = laws[:2]
)

// radii of the means that make surroundings, blocks: standard deviations of 3 to 53 mm.
var radii = [...]int{1, 2, 3, 4, 5, 7, 9, 12, 16, 21, 26}

// surroundings are a picture blurred in all sizes.
func surroundings(p plane) (around []plane) {
	for _, r := range radii {
		around = append(around, p.blurred(r))
	}
	return around
}

// fit is how well a law explains the card with surroundings of one size.
type fit struct {
	law      law
	around   plane
	strength float64
	u        float64
	rest     float64 // sum of squares that it leaves, in variances of each paint
}

// leading is the fit that leaves least.
func leading(fits []fit) fit {
	return slices.MinFunc(fits, func(a, b fit) int { return cmp.Compare(a.rest, b.rest) })
}

// beyond is the leading fit's strength in its standard uncertainties; 0 of none.
func beyond(fits []fit) float64 {
	if len(fits) == 0 {
		return 0
	}
	f := leading(fits)
	return f.strength / f.u
}

// best is each law's fit with the surroundings that suit it best, of those that brighten what is dark.
func best(paints []*paint, laws []law, levels, light []plane) (fits []fit) {
	for _, l := range laws {
		around := levels
		if l.light {
			around = light
		}
		var tried []fit
		for _, a := range around {
			if f := fitted(paints, l, a); f.strength > 0 {
				tried = append(tried, f)
			}
		}
		if len(tried) > 0 {
			fits = append(fits, leading(tried))
		}
	}
	return fits
}

// fitted is the least squares fit of one law with one size of surroundings, beside any quadratic of the light
// on each paint.
func fitted(paints []*paint, l law, around plane) fit {
	var ee, er, rr float64
	n := 0
	for _, p := range paints {
		e, r := p.without(p.effect(l, around)), p.without(p.rest)
		w := 1 / (p.sd * p.sd)
		ee, er, rr = ee+w*p.dot(e, e), er+w*p.dot(e, r), rr+w*p.dot(r, r)
		n += p.count() - len(p.basis)
	}
	f := fit{law: l, around: around, strength: er / ee, rest: rr - er*er/ee}
	f.u = alike * math.Sqrt(f.rest/float64(n-1)/ee)
	return f
}

// effect is what a law does to a paint's spots with strength 1.
func (p *paint) effect(l law, around plane) []float64 {
	e := make([]float64, len(p.spots))
	for i, s := range p.spots {
		e[i] = l.of(p.smooth[i], around.at(s.At[0]))
	}
	return e
}
