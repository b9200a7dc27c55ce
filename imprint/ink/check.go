package ink

import (
	"fmt"
	"math"
)

const (
	// leastInk is the density that a mark must reach over the paper: some three times the grain of 5 %, at the
	// millimetres over which the eye would average it.
	leastInk = 0.06
	// like is the part of the darker mark's density that makes a place a mark of like pressure.
	like = 0.4
	// patch is the radius over which darkness is averaged to look for marks, mm.
	patch = 7.0
	// leastGap is how far apart two marks are at least, mm.
	leastGap = 40.0
)

// checkStart refuses a start outside the window, or two marks in one place, and a blank sheet.
func (c *cells) checkStart(start [2][2]float64) error {
	n := len(c.x)
	for _, s := range start {
		if !finite(s[0], s[1]) || s[0] < c.x[0] || s[0] > c.x[n-1] || s[1] < c.y[0] || s[1] > c.y[n-1] {
			return fmt.Errorf("%w: the start (%.0f, %.0f) lies outside it", ErrBadWindow, s[0], s[1])
		}
	}
	if d := start[1][0] - start[0][0]; d < leastGap {
		return fmt.Errorf("%w: the right start is %.0f mm to the right of the left one, need %.0f", ErrBadWindow, d,
			leastGap)
	}
	darkest := 0.0
	for _, s := range start {
		darkest = math.Max(darkest, c.darkness(s[0], s[1]))
	}
	if darkest < leastInk {
		return fmt.Errorf("%w: the ink is %.0f %% darker than the paper, need %.0f", ErrNoMark, 100*darkest,
			100*leastInk)
	}
	return nil
}

// darkness is the mean loss of lightness within a patch about (x, y).
func (c *cells) darkness(x, y float64) float64 {
	var sum, n float64
	for i, v := range c.white {
		if !c.dark[i] && math.Hypot(c.x[i]-x, c.y[i]-y) < patch {
			sum += 1 - v
			n++
		}
	}
	if n == 0 {
		return 0
	}
	return sum / n
}

// checkMarks holds the fit against the window: there must be ink at both summits, of like density, a distance
// apart, and none of like density that the fit does not explain.
func (f *fitter) checkMarks() error {
	b, c := f.best(), f.cells
	at := b.summits()
	left, right := c.darkness(at[0][0], at[0][1]), c.darkness(at[1][0], at[1][1])
	dark := math.Max(left, right)
	switch {
	case dark < leastInk:
		return fmt.Errorf("%w: the ink is %.0f %% darker than the paper, need %.0f", ErrNoMark, 100*dark,
			100*leastInk)
	case math.Min(left, right) < like*dark:
		return fmt.Errorf("%w: the fainter side has %.0f %% of the other's ink", ErrOneMark,
			100*math.Min(left, right)/dark)
	case !(at[1][0]-at[0][0] > leastGap):
		return fmt.Errorf("%w: both sides' marks lead to one place", ErrOneMark)
	}
	if n := f.unexplained(like * dark); n > 0 {
		return fmt.Errorf("%w: %d mm^2 of like ink elsewhere", ErrManyMarks, n)
	}
	return nil
}

// unexplained is the area, mm^2, about which the ink exceeds the fit's by more than the given density.
func (f *fitter) unexplained(dark float64) int {
	b, c := f.best(), f.cells
	residual, _ := b.model.seen(b.fit)
	reach := int(patch / c.side)
	area := 0.0
	for j := reach; j < c.h-reach; j++ {
		for i := reach; i < c.w-reach; i++ {
			var sum, n float64
			for dj := -reach; dj <= reach; dj++ {
				for di := -reach; di <= reach; di++ {
					if di*di+dj*dj <= reach*reach {
						sum += residual[(j+dj)*c.w+i+di]
						n++
					}
				}
			}
			if sum/n > dark {
				area += c.side * c.side
			}
		}
	}
	return int(area)
}
