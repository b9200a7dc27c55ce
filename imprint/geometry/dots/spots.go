package dots

import (
	"math"
	"slices"

	"sitspan/imprint/geometry/raster"
)

// spot is a place that looks like a dot.
type spot struct {
	at       Point
	sigma    float64 // mm, of the filter that answered most: the radius is some 1.4 times that
	response float64 // of the filter, in ln brightness; positive for dark spots
}

// sigmas are the filters' scales in mm: a disc of radius r answers most at r / sqrt 2 (Lindeberg, Int. J.
// Computer Vision 30 (1998) 79, for the Laplacian; pages from memory, the papers settle them).
var sigmas = []float64{0.35, 0.5, 0.7, 1.0, 1.4, 2.0}

// spotsOf are the extrema over place and scale of the difference of Gaussians, clearest first.
func spotsOf(r *raster.Raster) []spot {
	var levels [][]float32
	for _, s := range sigmas {
		levels = append(levels, raster.Blur(r.Ln, r.Columns, r.Rows, s/raster.Step))
	}
	answers := levels[:len(levels)-1] // in the levels' place
	for k, answer := range answers {
		for i, broader := range levels[k+1] {
			answer[i] = broader - answer[i]
		}
	}
	var found []spot
	for k := range answers {
		found = append(found, extrema(r, answers, k)...)
	}
	slices.SortFunc(found, func(a, b spot) int {
		switch x, y := math.Abs(a.response), math.Abs(b.response); {
		case x > y:
			return -1
		case x < y:
			return 1
		}
		return 0
	})
	return found[:min(len(found), mostDots)]
}

// extrema are those of one scale: beyond all eight neighbours, and the nearest at the scales beside.
func extrema(r *raster.Raster, answers [][]float32, k int) (found []spot) {
	a, least := answers[k], float32(leastContrast/3) // a disc's answer is a third of its contrast, roughly
	const rim = 4
	for j := rim; j < r.Rows-rim; j++ {
		for i := rim; i < r.Columns-rim; i++ {
			at := j*r.Columns + i
			v := a[at]
			if v > -least && v < least {
				continue
			}
			if !beyond(r, a, at, v, false) || k > 0 && !beyond(r, answers[k-1], at, v, true) ||
				k+1 < len(answers) && !beyond(r, answers[k+1], at, v, true) {
				continue
			}
			found = append(found, spot{Point(r.At(float64(i), float64(j))), sigmas[k] * 1.2, float64(v)})
		}
	}
	return found
}

// beyond tells whether v is further from zero than all around a place.
func beyond(r *raster.Raster, a []float32, at int, v float32, centre bool) bool {
	sign := float32(1)
	if v < 0 {
		sign = -1
	}
	for dj := -1; dj <= 1; dj++ {
		for di := -1; di <= 1; di++ {
			if di == 0 && dj == 0 && !centre {
				continue
			}
			if sign*a[at+dj*r.Columns+di] >= sign*v {
				return false
			}
		}
	}
	return true
}
