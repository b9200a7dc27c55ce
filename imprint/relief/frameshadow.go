package relief

import "math"

const (
	// ln of light that the frame's edge takes away at the least; docs/evidence.md, Guards and refusals,
	// has the figures
	shadowDepth = 0.5
	rimCells    = 2 // along the card's edge, where it is dark under the card anyway
)

// ShadowGap is how near the shadow of the frame's own edge comes to the dents seen at left and right, mm;
// infinite where it does not, or where the frame's white does not tell the light.
//
// A dent's own walls may be as dark. But under one light two dents show alike, so that is taken for the
// frame's shadow which hangs together with the window's rim and is darker, by shadowDepth, than the pad's
// median and than the same place of the other dent. It cannot be told from a stain that runs from the rim
// into one dent; and where a lamp so low leaves the same walls dark in both dents, the shadow that falls on
// such a wall is not seen, nor does it change much there.
func (w Window) ShadowGap(left, right Point) (toLeft, toRight float64) {
	if len(w.Light) != Cells || (w.Frame == FrameLight{}) {
		return math.Inf(1), math.Inf(1)
	}
	l := overLight(w)
	m := lowerMedian(l)
	for i := range l {
		l[i] -= m
	}
	return shadowGap(l, left, right), shadowGap(l, right, left)
}

func shadowGap(l []float64, own, twin Point) float64 {
	gap := math.Inf(1)
	for i, in := range fromRim(darkerThanTwin(l, own, twin)) {
		x, y := i%Columns, i/Columns
		if in && min(x, Columns-1-x, y, Rows-1-y) >= rimCells {
			gap = math.Min(gap, distance(At(i), own))
		}
	}
	return gap
}

// darkerThanTwin are the cells darker by shadowDepth than the pad, whose ln of light is 0, and than the cell
// that lies to the twin as they lie to their own dent; where that one lies outside the window, than the pad.
func darkerThanTwin(l []float64, own, twin Point) []bool {
	dx, dy := int(math.Round((twin.X-own.X)/Step)), int(math.Round((twin.Y-own.Y)/Step))
	dark := make([]bool, Cells)
	for i, v := range l {
		other := 0.0
		if x, y := i%Columns+dx, i/Columns+dy; x >= 0 && x < Columns && y >= 0 && y < Rows {
			other = math.Min(other, l[y*Columns+x])
		}
		dark[i] = v < other-shadowDepth
	}
	return dark
}

// fromRim keeps what hangs together with the outermost cells, side by side.
func fromRim(dark []bool) []bool {
	kept := make([]bool, Cells)
	var todo []int
	visit := func(x, y int) {
		if i := y*Columns + x; x >= 0 && x < Columns && y >= 0 && y < Rows && dark[i] && !kept[i] {
			kept[i] = true
			todo = append(todo, i)
		}
	}
	for x := range Columns {
		visit(x, 0)
		visit(x, Rows-1)
	}
	for y := range Rows {
		visit(0, y)
		visit(Columns-1, y)
	}
	for len(todo) > 0 {
		x, y := todo[len(todo)-1]%Columns, todo[len(todo)-1]/Columns
		todo = todo[:len(todo)-1]
		visit(x-1, y)
		visit(x+1, y)
		visit(x, y-1)
		visit(x, y+1)
	}
	return kept
}
