package reference

import (
	"image"
	"math"
	"slices"

	"sitspan/imprint/homography"
	"sitspan/imprint/internal/leastsquares"
)

const (
	lanes      = 24   // profiles across each side
	laneBlocks = 8    // groups of lanes; what lies under the card may change between them
	cornerSkip = 0.11 // share of a side left out at either end: 5.9 mm of the short one, beyond the rounding
	reachMM    = 1.6  // how far from the searched line the edge may lie
	laneStep   = 0.5  // px
)

// side is one side of a card in the picture: a to b, n outward.
type side struct {
	a, b   homography.Pixel
	nx, ny float64
	length float64
}

// newSide takes two neighbouring corners of a clockwise figure (y down), whose outside is on the left of the
// way round.
func newSide(a, b homography.Pixel) side {
	l := a.Distance(b)
	return side{a, b, (b.Y - a.Y) / l, -(b.X - a.X) / l, l}
}

// at is the pixel at the share s of the way, n px outward.
func (s side) at(share, n float64) homography.Pixel {
	return homography.Pixel{X: s.a.X + share*(s.b.X-s.a.X) + n*s.nx, Y: s.a.Y + share*(s.b.Y-s.a.Y) + n*s.ny}
}

func laneShare(i int) float64 {
	return cornerSkip + (1-2*cornerSkip)*(float64(i)+0.5)/lanes
}

// gradients are the slopes across the side, grey levels per px, for each lane at offsets -reach to reach px.
// The slope is taken over 2 px and each lane is averaged over its own width.
func (s side) gradients(img *image.Gray, reach float64) [][]float64 {
	n := 2*int(math.Ceil(reach/laneStep)) + 1
	width := s.length * (1 - 2*cornerSkip) / lanes
	across := max(2, min(10, int(width)))
	out := make([][]float64, lanes)
	v := make([]float64, n+4)
	for i := range out {
		for k := range v {
			off := (float64(k-2) - float64(n-1)/2) * laneStep
			sum := 0.0
			for j := range across {
				sum += at(img, s.at(laneShare(i)+width/s.length*((float64(j)+0.5)/float64(across)-0.5), off))
			}
			v[k] = sum / float64(across)
		}
		g := make([]float64, n)
		for k := range g {
			g[k] = (v[k+4] - v[k] + v[k+3] - v[k+1]) / (6 * laneStep)
			if math.IsNaN(g[k]) {
				g[k] = 0
			}
		}
		out[i] = g
	}
	return out
}

// stacked sums the lanes along a line through offset k at the middle with a slope of so many steps from end
// to end: block by block, whatever their signs.
func stacked(g [][]float64, k int, slope float64) (sum float64, sign [laneBlocks]float64) {
	for i, lane := range g {
		j := k + int(math.Round(slope*(float64(i)+0.5-lanes/2)/lanes))
		if j >= 0 && j < len(lane) {
			sign[i*laneBlocks/lanes] += lane[j]
		}
	}
	for _, s := range sign {
		sum += math.Abs(s)
	}
	return sum, sign
}

// edgePoint is where a side's edge was found.
type edgePoint struct {
	at    homography.Pixel
	slope float64 // grey levels per px, outward
	along float64 // of the side, -1 to 1
}

// edge is one side of a card as it was found.
type edge struct {
	points []edgePoint
	// uneven is the scatter in px, as a standard deviation, of where the lanes first saw it.
	uneven float64
}

// innermost is the share of the strongest step that a step further in must have to be the card's own edge,
// rather than that of its shadow.
const innermost = 0.4

// find locates the side's edge: first where all lanes together change most, the innermost of like steps, then
// lane by lane.
func (s side) find(img *image.Gray, gsd float64) (e edge, ok bool) {
	reach := math.Max(4, reachMM/gsd)
	g := s.gradients(img, reach)
	n := len(g[0])
	maxSlope := math.Max(4, 2*reach/laneStep*0.3)
	best, slope := make([]float64, n), make([]float64, n)
	for k := range n {
		for t := -maxSlope; t <= maxSlope; t++ {
			if v, _ := stacked(g, k, t); v > best[k] {
				best[k], slope[k] = v, t
			}
		}
	}
	top := 0
	for k := range best {
		if best[k] > best[top] {
			top = k
		}
	}
	for k := 1; k < top-2; k++ {
		if best[k] >= innermost*best[top] && best[k] >= best[k-1] && best[k] >= best[k+1] {
			top = k
			break
		}
	}
	starts, sign := blockPeaks(g, top, slope[top])
	mid, tilt := 0.0, 0.0
	for pass, near := range []float64{0.8, 0.6} { // px
		var x, y []float64
		e.points = e.points[:0]
		for i, lane := range g {
			pos := (float64(i)+0.5)/lanes - 0.5
			from, block := mid+tilt*pos, i*laneBlocks/lanes
			if pass == 0 {
				from = starts[block] + slope[top]*pos
			}
			k, ok := lanePeak(lane, from, near/laneStep, sign[block])
			if !ok {
				continue
			}
			x, y = append(x, pos), append(y, k)
			e.points = append(e.points, edgePoint{at: s.at(laneShare(i), (k-float64(n-1)/2)*laneStep),
				slope: lane[int(math.Round(k))], along: 2 * pos * (1 - 2*cornerSkip)})
		}
		if len(x) < leastLanes {
			return e, false
		}
		mid, tilt = medianLine(x, y)
		if pass == 0 {
			e.uneven = spread(x, y, mid, tilt) * laneStep
		}
	}
	return e, true
}

// blockPeaks are the innermost of like steps near k, block by block, with their signs: where the card lies
// half on paper and half on the table, the one may show the wall's foot and the other its top.
func blockPeaks(g [][]float64, k int, slope float64) (at, sign [laneBlocks]float64) {
	near := int(math.Round(1.8 / laneStep)) // px
	n := len(g[0])
	sums := make([][laneBlocks]float64, n)
	for j := range n {
		_, sums[j] = stacked(g, j, slope)
	}
	for b := range laneBlocks {
		best := k
		for j := max(1, k-near); j <= min(n-2, k+near); j++ {
			if math.Abs(sums[j][b]) > math.Abs(sums[best][b]) {
				best = j
			}
		}
		for j := max(1, k-near); j < best-1; j++ {
			v := math.Abs(sums[j][b])
			if v >= innermost*math.Abs(sums[best][b]) && v >= math.Abs(sums[j-1][b]) && v >= math.Abs(sums[j+1][b]) {
				best = j
				break
			}
		}
		at[b], sign[b] = float64(best), sums[best][b]
	}
	return at, sign
}

// medianLine is the line y = a + b x by the median of all slopes (Theil and Sen).
func medianLine(x, y []float64) (a, b float64) {
	var slopes, offsets []float64
	for i := range x {
		for k := i + 1; k < len(x); k++ {
			slopes = append(slopes, (y[k]-y[i])/(x[k]-x[i]))
		}
	}
	slices.Sort(slopes)
	b = slopes[len(slopes)/2]
	for i := range x {
		offsets = append(offsets, y[i]-b*x[i])
	}
	slices.Sort(offsets)
	return offsets[len(offsets)/2], b
}

// spread is the standard deviation about the line a + b x, robustly.
func spread(x, y []float64, a, b float64) float64 {
	off := make([]float64, len(x))
	for i := range x {
		off[i] = y[i] - a - b*x[i]
	}
	return leastsquares.RobustSD(off)
}

// lanePeak is the lane's steepest place of the right sign within so many steps of where all lanes say it is.
func lanePeak(lane []float64, mid, near, sign float64) (k float64, ok bool) {
	sign = math.Copysign(1, sign)
	best := -1
	for k := max(1, int(math.Ceil(mid-near))); k <= min(len(lane)-2, int(mid+near)); k++ {
		if v := sign * lane[k]; v > 0 && (best < 0 || v > sign*lane[best]) {
			best = k
		}
	}
	if best < 1 {
		return 0, false
	}
	a, b, c := sign*lane[best-1], sign*lane[best], sign*lane[best+1]
	den := a - 2*b + c
	if !(den < 0 && a < b && c < b) {
		return 0, false
	}
	return float64(best) + 0.5*(a-c)/den, true
}
