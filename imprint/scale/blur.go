package scale

import (
	"image"
	"math"
	"slices"

	"sitspan/imprint/codes"
	"sitspan/imprint/internal/cores"
	"sitspan/imprint/judge"
)

// Bounds for a picture in which no mark was found: is there anything sharp in it?
const (
	strongEdge  = 50  // grey levels over its reach: printing, a card's or a table's edge
	fewestEdges = 30  // strong ones along an axis, below which nothing is said: foam alone has hardly any
	sharpShare  = 0.1 // of the edges are sharper than the figure that is judged
	// px of the longer side up to which that holds; larger pictures are enlarged by the phone itself
	softAt = 4032
)

// isSoft tells that not even the sharpest of the picture's strong edges are sharp, along the rows or along
// the columns, and how soft they are, px.
func isSoft(grey *image.Gray) (sigma float64, soft bool) {
	w, h := grey.Rect.Dx(), grey.Rect.Dy()
	var along [2][]float64
	cores.Each(2, func(i int) {
		axis := [2][4]int{{w, h, 1, grey.Stride}, {h, w, grey.Stride, 1}}[i]
		along[i] = edgesAlong(grey.Pix, axis[0], axis[1], axis[2], axis[3], max(8, max(w, h)/100))
	})
	for _, edges := range along {
		if len(edges) >= fewestEdges {
			slices.Sort(edges)
			sigma = math.Max(sigma, edges[int(sharpShare*float64(len(edges)))])
		}
	}
	return sigma, sigma > judge.SoftEdge.Value*math.Max(1, float64(max(w, h))/softAt)
}

// edgesAlong are the widths of the strong edges along every eighth of the lines, n px long and step apart in
// memory: the height of an edge over its steepest slope is sqrt(2 pi) times the standard deviation of a
// Gaussian blur.
func edgesAlong(pix []uint8, n, lines, step, line, reach int) (sigma []float64) {
	for y := 0; y < lines; y += 8 {
		row := pix[y*line:]
		rise := func(x int) int {
			d := int(row[(x+reach)*step]) - int(row[(x-reach)*step])
			return max(d, -d)
		}
		for x := reach; x < n-2*reach; x++ {
			if rise(x) < strongEdge {
				continue
			}
			x += reach // the edge has just come into reach: to its middle
			slope := 0
			for k := x - reach; k < x+reach-1; k++ {
				d := int(row[(k+2)*step]) - int(row[k*step])
				slope = max(slope, d, -d)
			}
			if rise := rise(x); rise >= strongEdge {
				sigma = append(sigma, float64(rise)/(float64(slope)/2)/math.Sqrt(2*math.Pi))
			}
			x += reach // and past it
		}
	}
	return sigma
}

// SayIfSoft names blur where no mark was found, or none that could be measured, because nothing in the
// picture is sharp.
func SayIfSoft(v *judge.Verdict, marks int, grey *image.Gray) {
	if v.Status != judge.Refused || marks > 0 {
		return
	}
	var why *codes.Entry
	switch {
	case codes.NoFrame.Is(v.Reasons[0]):
		why = codes.BlurUnfound
	case codes.FewMarks.Is(v.Reasons[0]):
		why = codes.BlurUnmeasured
	default:
		return
	}
	if sigma, soft := isSoft(grey); soft {
		v.Reasons[0] = why.With(sigma)
	}
}
