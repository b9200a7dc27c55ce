package tone

import (
	"image"
	"math"

	"sitspan/imprint/internal/rank"
)

const (
	// alike is the square root of how many of a card's spots, 3 mm apart, err together: light that is no
	// quadratic, and a bowed card, reach over some 20 mm, so the fit's own u is too small by it.
	alike = 20. / 3
	// doubted is the number of such standard uncertainties up to which a tone is no tone. 64 rendered photos
	// without one, as they are, sharpened (amount 2, 2 px) and made small (1600 px), came to 2.3 at most.
	doubted = 4.0
	// worth is the number from which the light's surroundings are worked out, too.
	worth = 2.5
	// independent is how many of the card's spots count when laws are weighed against each other: its white and
	// black in squares of 20 mm.
	independent = 40
	// Words, figures and ticks darken up to two thirds of a spot of white; of black nothing is printed on.
	whiteShare, blackShare = 0.75, 0.5
)

// Card is what is known of a frame in a picture: where its white and its black are, places all over its
// window, and the picture's scale.
type Card struct {
	White, Black []Spot
	Window       []Pixel
	PxPerMM      float64
}

// Tone is the local tone that a card shows. A nil Tone changes nothing.
type Tone struct{ parts []part }

// part is one law's share.
type part struct {
	law      law
	around   plane
	strength float64 // times its weight among the laws
	middle   float64 // of the surroundings over the window, where nothing is changed
}

// Plain is the level that a place had before.
func (t *Tone) Plain(level float64, at Pixel) float64 {
	if t == nil {
		return level
	}
	v := level
	for _, p := range t.parts {
		v -= p.strength * (p.law.of(level, p.around.at(at)) - p.law.of(level, p.middle))
	}
	return math.Max(0, math.Min(1, v))
}

// Find fits the laws to the card, and returns nil where its white and black show no tone beyond doubt. The
// surroundings are first those of the picture as it is, then of the picture as it was by that fit.
func Find(grey *image.Gray, c Card) *Tone {
	fine, ok := reduced(grey, c.PxPerMM)
	if !ok {
		return nil
	}
	levels := fine.coarser()
	white, ok := newPaint(c.White, fine, whiteShare)
	if !ok {
		return nil
	}
	paints := []*paint{white}
	if black, ok := newPaint(c.Black, fine, blackShare); ok {
		paints = append(paints, black)
	}
	around := surroundings(levels)
	if beyond(best(paints, ofLevels, around, nil)) < worth {
		return nil
	}
	fits := best(paints, laws, around, surroundings(levels.light()))
	if beyond(fits) < doubted {
		return nil
	}
	levels = levels.plain(mix(fits, c.Window))
	fits = best(paints, laws, surroundings(levels), surroundings(levels.light()))
	if beyond(fits) < doubted {
		return nil
	}
	return mix(fits, c.Window)
}

// plain is the picture as it was before a tone.
func (p plane) plain(t *Tone) plane {
	out := p
	out.v = make([]float32, len(p.v))
	for i, v := range p.v {
		at := Pixel{(float64(i%p.w)+0.5)*p.k - 0.5, (float64(i/p.w)+0.5)*p.k - 0.5}
		out.v[i] = float32(t.Plain(float64(v), at))
	}
	return out
}

// mix is the laws' fits together, each by how well it explains the card.
func mix(fits []fit, window []Pixel) *Tone {
	first, sum := leading(fits), 0.0
	weights := make([]float64, len(fits))
	for i, f := range fits {
		weights[i] = math.Exp(-independent / 2 * (f.rest/first.rest - 1))
		sum += weights[i]
	}
	t := &Tone{}
	for i, f := range fits {
		t.parts = append(t.parts, part{f.law, f.around, f.strength * weights[i] / sum, middle(f.around, window)})
	}
	return t
}

// middle is the median of the surroundings over the window.
func middle(around plane, window []Pixel) float64 {
	v := make([]float64, len(window))
	for i, p := range window {
		v[i] = around.at(p)
	}
	return rank.Median(v)
}
