package reading

import (
	"math"
	"slices"

	"sitspan/imprint/internal/rank"
	"sitspan/imprint/relief"
)

const (
	edgeMargin  = 3.0   // mm inside a sheet's edge from which its light is the paper's alone
	edgeScatter = 2.5   // mm about a line within which places belong to one edge
	edgeShare   = 0.25  // part of the lines across a side that must meet its edge in one line
	leastLid    = 4.0   // mm of lid beside a sheet, below which its edge does not matter
	edgeTurn    = 0.1   // rad, how far a sheet may lie turned on the glass
	leastEdge   = 0.006 // of ln light, the least step that counts: two grey levels of 255
)

// sheetEdge is one side of a sheet on the scanner's glass: points with nx x + ny y > offset (mm) lie on the
// sheet.
type sheetEdge struct{ nx, ny, offset float64 }

// findEdges looks for the sides of a sheet that is smaller than the glass: ink that runs to such a side ends
// there because the paper does, and not because the pressure does. Between the picture's edge and the sheet's
// lies the scanner's lid, which is even. A side where the sheet goes to the picture's edge, or cannot be told
// from the lid, has none.
func (s *Sheet) findEdges(light []float64) {
	ln := make([]float64, len(light))
	var rim []float64
	for i, l := range light {
		ln[i] = math.Log(math.Max(l, 1e-3))
		if x, y := i%s.w, i/s.w; x == 1 || y == 1 || x == s.w-2 || y == s.h-2 {
			rim = append(rim, ln[i])
		}
	}
	lid := rank.Median(rim)
	for i := range rim {
		rim[i] = math.Abs(rim[i] - lid)
	}
	// the median of magnitudes to a standard deviation: normal law
	step := math.Max(leastEdge, 6*1.4826*rank.Median(rim))
	for side := range 4 {
		if e, ok := fitEdge(s.meet(ln, lid, step, side)); ok {
			s.edges = append(s.edges, e.turned(side, float64(s.w)*s.step, float64(s.h)*s.step))
		}
	}
}

// meeting is where a line of cells that walks in from a side meets something other than the lid.
type meeting struct {
	along, depth float64 // mm along the side, and from it
	near, far    float64 // how much ln of light differs from the lid's some 3 and 11 mm further in
}

// meet walks in from a side (0 left, 1 right, 2 top, 3 bottom) along each line of cells until the lid ends.
func (s *Sheet) meet(ln []float64, lid, step float64, side int) (at []meeting) {
	n, reach := s.h, s.w/3
	if side >= 2 {
		n, reach = s.w, s.h/3
	}
	for k := 2; k < n-2; k++ {
		off := func(d int) float64 {
			x, y := [4]int{d, s.w - 1 - d, k, k}[side], [4]int{k, k, d, s.h - 1 - d}[side]
			return math.Abs(ln[y*s.w+x] - lid)
		}
		for d := 1; d < reach; d++ {
			if off(d) > step {
				at = append(
					at,
					meeting{
						(float64(k) + 0.5) * s.step,
						(float64(d) + 0.5) * s.step,
						(off(d+1) + off(d+2)) / 2,
						(off(d+5) + off(d+6)) / 2,
					},
				)
				break
			}
		}
	}
	return at
}

// fitEdge finds the line depth = offset + slope along on which most meetings lie. A mark's own rim, where the
// ink fades, can look like a line, too, but not like a step.
func fitEdge(at []meeting) (e sheetEdge, ok bool) {
	var most, near, far float64
	for slope := -edgeTurn; slope <= edgeTurn; slope += edgeTurn / 20 {
		for i := 0; i < len(at); i += 3 {
			var n, a, b float64
			offset := at[i].depth - slope*at[i].along
			for _, m := range at {
				k := math.Max(0, 1-math.Abs(m.depth-offset-slope*m.along)/edgeScatter)
				n, a, b = n+k, a+k*m.near, b+k*m.far
			}
			if n > most {
				most, near, far, e = n, a, b, sheetEdge{-slope, 1, offset}
			}
		}
	}
	return e, len(at) > 20 && most > edgeShare*float64(len(at)) && near > far/2 && e.offset > leastLid
}

// turned carries an edge from (along, depth) of a side to x and y of a picture of w by h mm.
func (e sheetEdge) turned(side int, w, h float64) sheetEdge {
	switch side {
	case 0:
		return sheetEdge{e.ny, e.nx, e.offset}
	case 1:
		return sheetEdge{-e.ny, e.nx, e.offset - e.ny*w}
	case 3:
		return sheetEdge{e.nx, -e.ny, e.offset - e.ny*h}
	}
	return e
}

// OnPaper tells whether a place, mm from the picture's top left edge, lies on the sheet and clear of its
// sides.
func (s *Sheet) OnPaper(q relief.Point) bool {
	for _, e := range s.edges {
		if e.nx*q.X+e.ny*q.Y < e.offset+edgeMargin*math.Hypot(e.nx, e.ny) {
			return false
		}
	}
	return true
}

// Spread fills cells without light from their neighbours, ring by ring: the net was taught on windows full of
// paper, and a sheet's side would look to it like the end of a mark.
func Spread(light []float64) []float64 {
	out := slices.Clone(light)
	for range relief.Columns {
		ring := slices.Clone(out)
		for i, l := range out {
			if math.IsNaN(l) {
				ring[i] = around(out, i)
			}
		}
		out = ring
	}
	return out
}

// around is the mean of a cell's neighbours that have light; NaN where none has.
func around(light []float64, i int) float64 {
	var sum, n float64
	x, y := i%relief.Columns, i/relief.Columns
	for v := max(0, y-1); v <= min(relief.Rows-1, y+1); v++ {
		for u := max(0, x-1); u <= min(relief.Columns-1, x+1); u++ {
			if l := light[v*relief.Columns+u]; !math.IsNaN(l) {
				sum, n = sum+l, n+1
			}
		}
	}
	return sum / n
}
