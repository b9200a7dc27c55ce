package ink

import (
	"errors"
	"fmt"
	"math"
	"slices"
)

// Errors of Fit and Locate; those that are returned wrap one of these.
var (
	// ErrBadWindow says that the call itself is wrong, or that the light is not finite.
	ErrBadWindow = errors.New("no window of light")
	// ErrNoMark says that the paper is blank or nearly so.
	ErrNoMark = errors.New("no mark")
	// ErrOneMark says that only one of the two marks is there.
	ErrOneMark = errors.New("one mark")
	// ErrManyMarks says that more than two marks are there.
	ErrManyMarks = errors.New("more than two marks")
	// ErrNoFit says that no family of marks could be fitted.
	ErrNoFit = errors.New("no fit")
)

const (
	// cellSide is the side of the squares over which the window is averaged, mm, before it is fitted: a mark's
	// narrowest half width is twice that, and most grain is finer.
	cellSide = 5.0
	// tone is the exponent that turns light into lightness, in which the grain is about equally strong
	// everywhere.
	tone = 2.2
	// leastLight is what the light is taken to be at least, full scale being 1.
	leastLight = 1e-3
	// most is the largest number of values that a window may have.
	most = 1 << 24
)

// cells are the window averaged over squares.
type cells struct {
	w, h  int
	side  float64   // mm
	x, y  []float64 // the squares' middles, mm
	paper float64   // ln of the light on unmarked paper, a first estimate
	white []float64 // lightness over the paper's: 1 where unmarked
	dark  []bool    // cells that were not seen; they count for nothing
}

// gather averages light over squares of about the given side.
func gather(light []float64, w, h int, x0, y0, step, side float64) (*cells, error) {
	if w < 1 || h < 1 || w > most/h || len(light) != w*h || !(step > 0) || math.IsInf(step, 1) ||
		!finite(x0, y0) {
		return nil, fmt.Errorf("%w: %d values for %d x %d cells of %v mm", ErrBadWindow, len(light), w, h, step)
	}
	k := max(1, int(math.Round(side/step)))
	c := &cells{w: w / k, h: h / k, side: step * float64(k)}
	if c.w < 8 || c.h < 8 {
		return nil, fmt.Errorf("%w: %.0f x %.0f mm is too small for two marks", ErrBadWindow, float64(w)*step,
			float64(h)*step)
	}
	left, top := (w-c.w*k)/2, (h-c.h*k)/2
	seen := make([]float64, 0, c.w*c.h)
	for j := range c.h {
		for i := range c.w {
			l := mean(light, w, left+i*k, top+j*k, k)
			if math.IsInf(l, 0) {
				return nil, fmt.Errorf("%w: light without bounds near (%d, %d)", ErrBadWindow, left+i*k, top+j*k)
			}
			c.dark = append(c.dark, math.IsNaN(l))
			if !math.IsNaN(l) {
				seen = append(seen, math.Log(math.Max(leastLight, l)))
			}
			c.white = append(c.white, math.Log(math.Max(leastLight, l)))
			c.x = append(c.x, x0+step*(float64(left+i*k)+float64(k-1)/2))
			c.y = append(c.y, y0+step*(float64(top+j*k)+float64(k-1)/2))
		}
	}
	if len(seen) < len(c.white)/2 {
		return nil, fmt.Errorf("%w: %d of %d cells have light, need half", ErrBadWindow, len(seen), len(c.white))
	}
	c.paper = brightest(seen)
	for i, l := range c.white {
		if c.white[i] = math.Exp((l - c.paper) / tone); c.dark[i] {
			c.white[i] = 1
		}
	}
	return c, nil
}

// mean is that of a square of k by k values.
func mean(light []float64, w, i, j, k int) (s float64) {
	for b := range k {
		for a := range k {
			s += light[(j+b)*w+i+a]
		}
	}
	return s / float64(k*k)
}

// brightest is ln of the light on the paper: the mean of what lies near the brightest, where that is enough
// to be paper and not a gleam. Marks can cover nearly all of a window, so the middle of it says nothing.
func brightest(ln []float64) float64 {
	paper := quantile(ln, 0.985)
	for range 10 {
		var sum, n float64
		for _, l := range ln {
			if r := l - paper; math.Abs(r) < 0.05 {
				sum += r
				n++
			}
		}
		if n < 0.03*float64(len(ln)) {
			break
		}
		paper += sum / n
	}
	return paper
}

// quantile takes no mean between neighbours.
func quantile(v []float64, p float64) float64 {
	s := slices.Clone(v)
	slices.Sort(s)
	return s[int(p*float64(len(s)-1))]
}

func finite(v ...float64) bool {
	for _, f := range v {
		if math.IsNaN(f) || math.IsInf(f, 0) {
			return false
		}
	}
	return true
}
