package ink

import "math"

// Every family's surface is a dent in a basin and, about each dent, a square of bumps: what is smooth on the
// scale of two centimetres but neither a dent of its family nor its basin. On a round mark they move the
// summit little; on a flat one they decide where it is, and that they may is what makes its uncertainty
// honest.
const (
	bumpRow    = 5    // bumps along a side of the square
	bumpGap    = 20.0 // mm between their middles
	bumpLength = 20.0 // mm, each bump's standard deviation
	bumpReach  = 3    // standard deviations beyond which a bump is nothing
	bumps      = 2 * bumpRow * bumpRow
	bumpy      = parameters + bumps // the number of parameters with bumps
)

// bumpHeight is the standard deviation of the bumps' sum, in dents' heights: 0.8 mm of flesh, cloth and folds
// on ten (our assumption). A single bump's is such that their squares, which add up to pi bumpLength^2 /
// bumpGap^2, bring it.
const bumpHeight = 0.08

var bumpSD = bumpHeight * bumpGap / (bumpLength * math.Sqrt(math.Pi))

// field is a square of bumps about either dent: where they are, mm, and what each is at each cell.
type field struct {
	at    [bumps][2]float64
	cells [][]bump
}

// bump is what a bump of unit height is at a cell.
type bump struct {
	which  int
	height float64
}

// fieldAbout lays the squares about both dents.
func (c *cells) fieldAbout(p []float64) *field {
	f := &field{cells: make([][]bump, len(c.x))}
	for i := range f.at {
		side, cell := i/(bumpRow*bumpRow), i%(bumpRow*bumpRow)
		f.at[i][0] = p[side*perSide+atX] + bumpGap*float64(cell%bumpRow-bumpRow/2)
		f.at[i][1] = p[side*perSide+atY] + bumpGap*float64(cell/bumpRow-bumpRow/2)
	}
	for i := range f.cells {
		for k := range f.at {
			if e := f.one(k, c.x[i], c.y[i]); e > 0 {
				f.cells[i] = append(f.cells[i], bump{k, e})
			}
		}
	}
	return f
}

// one is bump k of unit height at (x, y).
func (f *field) one(k int, x, y float64) float64 {
	dx, dy := (x-f.at[k][0])/bumpLength, (y-f.at[k][1])/bumpLength
	r2 := dx*dx + dy*dy
	if r2 > bumpReach*bumpReach {
		return 0
	}
	return math.Exp(-r2 / 2)
}

// height is that of bumps h at (x, y).
func (f *field) height(h []float64, x, y float64) (z float64) {
	for k, v := range h {
		z += v * f.one(k, x, y)
	}
	return z
}

// atCell is the bumps' height at cell i; where by is not nil, it is given the derivatives by h.
func (f *field) atCell(h []float64, i int, by []float64) (z float64) {
	for _, b := range f.cells[i] {
		z += h[b.which] * b.height
		if by != nil {
			by[b.which] = b.height
		}
	}
	return z
}
