package reference

import (
	"image"
	"math"

	"sitspan/imprint/homography"
)

const (
	// leastFold is the share of the lines' variance of length that a fold must explain. Of 60 equal lines chance
	// explains 0.2 or more by a fold of ten once in some thousand times (F test).
	leastFold = 0.2
	// clearFold is how much more than an inch's sixteenths it must explain.
	clearFold = 0.15
	// leastPairs is the share that even against odd lines must explain to be whole and half millimetres: among
	// millimetres alone the tens are even and the fives odd, which explains a twentieth.
	leastPairs = 0.15
)

// period tells the graduation's period in mm from the pattern of longer lines: every tenth (and fifth) of
// millimetres, every twentieth of half millimetres; eighths and sixteenths are an inch's, and no good. inward
// is the side of the band, 1 or -1, to which the lines reach. It looks just beyond the band and farther,
// where only the longest lines reach.
func (g *graduation) period(img *image.Gray) (mm, inward float64, ok bool) {
	best, pairs, twenties := 0.0, 0.0, 0.0
	places := g.places()
	for _, side := range []float64{1, -1} {
		for _, reach := range [][2]float64{{0, 0.5}, {0, 1}, {0.5, 1}, {0, 2}, {1, 2}} {
			l := g.lengths(img, places, side, reach[0], reach[1])
			ten, twenty, sixteen := fold(l, 10), fold(l, 20), fold(l, 16)
			most := math.Max(ten, twenty)
			if most < leastFold || most < sixteen+clearFold {
				continue
			}
			if most > best {
				best, inward, ok = most, side, true
			}
			pairs, twenties = math.Max(pairs, fold(l, 2)), math.Max(twenties, twenty-ten)
		}
	}
	mm = 1
	if pairs > leastPairs || twenties > leastPairs {
		mm = 0.5
	}
	return mm, inward, ok
}

// lengths is how far each line reaches beyond the band of all lines, to one side, as the sum of its contrast
// between two distances in heights of the band.
func (g *graduation) lengths(img *image.Gray, places []float64, side, from, to float64) []float64 {
	height := g.high - g.low
	start := g.high
	if side < 0 {
		start = g.low
	}
	out := make([]float64, 0, g.to-g.from+1)
	for n := range g.to - g.from + 1 {
		sum := 0.0
		for d := from * height; d <= to*height; d += 1.5 {
			beside := start + side*d
			on := at(img, g.along(places[2*n+1], beside))
			off := (at(img, g.along(places[2*n], beside)) + at(img, g.along(places[2*n+2], beside))) / 2
			if v := g.darker * (off - on); !math.IsNaN(v) {
				sum += v
			}
		}
		out = append(out, sum)
	}
	return out
}

// places are where the lines are, and the middles between them, from before the first to behind the last, px
// along the strip.
func (g *graduation) places() (all []float64) {
	for n := g.from; n <= g.to; n++ {
		all = append(all, g.place(float64(n)-0.5), g.place(float64(n)))
	}
	return append(all, g.place(float64(g.to)+0.5))
}

// along is where the line at a place of the strip goes on beyond the band: lines lean by what the phase does
// across it.
func (g *graduation) along(place, beside float64) homography.Pixel {
	mid := (g.low + g.high) / 2
	return g.point(place+(beside-mid)*g.lean, beside)
}

// fold is the share of the variance that a repeating pattern of m values explains, less what chance explains.
func fold(v []float64, m int) float64 {
	n := len(v)
	if n < 2*m {
		return 0
	}
	var mean, total float64
	for _, x := range v {
		mean += x / float64(n)
	}
	sums, counts := make([]float64, m), make([]float64, m)
	for i, x := range v {
		total += (x - mean) * (x - mean)
		sums[i%m] += x - mean
		counts[i%m]++
	}
	explained := 0.0
	for k, s := range sums {
		explained += s * s / counts[k]
	}
	within := (total - explained) / float64(n-m)
	return 1 - within/(total/float64(n-1))
}
