package relief

import "math"

// TakeOff takes the empty pad's own brightness off a window: its paint, its dirt and what is left of older
// imprints.
func TakeOff(w *Window, blank Window) {
	b := overLight(blank)
	var mean float64
	for i := range b {
		mean += b[i] / Cells
	}
	for i := range w.Light {
		w.Light[i] *= math.Exp(mean - b[i])
	}
}

// overLight is ln of the window's light less what the frame's white says of the lamp.
func overLight(w Window) []float64 {
	l, _ := logLight(w.Light)
	for i := range l {
		l[i] -= w.Frame.At(At(i))
	}
	return l
}

// Stranger tells that a blank does not show the pad, or the light, that lies under an imprint: taken off,
// what it holds of stains, seams and old dents would add more than it takes away, by one standard
// uncertainty: a blank left out needlessly costs a look, a foreign one a false dent. It looks at what is
// small and at what is as broad as a dent; an even pad has neither, and is no stranger.
func Stranger(w, blank Window) bool {
	for _, reach := range []int{fineReach, dentReach} {
		if share, u := kinship(w, blank, reach); share+u < 0.5 {
			return true
		}
	}
	return false
}

// kinship is how much of the blank's structure over a running mean a window shows, with its standard
// uncertainty: about 1 is all of it, 0 none; 1 with an infinite uncertainty where there is none.
//
// It is the slope of a straight line through the two, cell by cell, with what grain and pores leave taken off
// the blank's. What new dents leave counts as scatter, and as the slope's own uncertainty whatever the
// scatter's course (White, Econometrica 48 (1980) 817-838; pages from memory, the paper settles them), with
// one independent error per area of the mean, since neighbouring cells err alike.
func kinship(w, blank Window, reach int) (share, u float64) {
	a, b := over(overLight(w), reach), over(overLight(blank), reach)
	for i, v := range b {
		b[i] = math.Copysign(math.Max(0, math.Abs(v)-grain), v)
	}
	own := dot(b, b)
	if own == 0 {
		return 1, math.Inf(1)
	}
	share = dot(a, b) / own
	var scatter float64
	for i := range a {
		r := a[i] - share*b[i]
		scatter += (r*r + pores*pores) * b[i] * b[i]
	}
	patch := float64((2*reach + 1) * (2*reach + 1))
	return share, math.Sqrt(scatter*patch) / own
}

const (
	// ln of light: what pores and noise leave on a 2 mm cell, which no two photos share to the millimetre
	pores     = 0.012
	grain     = 0.03 // ln of light: 2.5 times that, which stays below
	fineReach = 3    // cells on either side of a mean's middle: 14 mm
	dentReach = 10   // 42 mm
)

// over takes the local mean off, along rows and columns in turn.
func over(l []float64, reach int) []float64 {
	mean := boxed(boxed(l, reach, 1, Columns), reach, Columns, Rows)
	for i := range l {
		l[i] -= mean[i]
	}
	return l
}

// boxed is the running mean over reach cells on either side, in steps of stride through lines of n cells; at
// the ends over what is there.
func boxed(l []float64, reach, stride, n int) []float64 {
	out := make([]float64, Cells)
	for i := range l {
		at := i / stride % n
		low, high := max(-reach, -at), min(reach, n-1-at)
		for k := low; k <= high; k++ {
			out[i] += l[i+k*stride] / float64(high-low+1)
		}
	}
	return out
}
