package artwork

import "sitspan/calibration"

// corner is a corner of a module in a mark's grid: (0, 0) is the mark's top
// left, (7, 7) its bottom right.
type corner struct{ x, y int }

// markLoops traces the boundary between a mark's black and white modules, as
// closed loops of the grid's corners. Collinear corners are left out. Black
// lies to the right of the direction of travel (y down).
func markLoops(m calibration.Mark) [][]corner {
	next := boundary(m)
	var loops [][]corner
	for y := range calibration.MarkModules + 1 {
		for x := range calibration.MarkModules + 1 {
			start := corner{x, y}
			for len(next[start]) > 0 {
				loops = append(loops, withoutCollinear(follow(next, start)))
			}
		}
	}
	return loops
}

// boundary lists, for every grid corner, where the boundary's edges from it
// lead.
func boundary(m calibration.Mark) map[corner][]corner {
	isBlack := func(row, column int) bool {
		inside := row >= 0 && row < calibration.MarkModules && column >= 0 && column < calibration.MarkModules
		return inside && m.Black(row, column)
	}
	next := map[corner][]corner{}
	edge := func(from, to corner) { next[from] = append(next[from], to) }
	for y := range calibration.MarkModules {
		for x := range calibration.MarkModules {
			if !isBlack(y, x) {
				continue
			}
			topLeft, topRight := corner{x, y}, corner{x + 1, y}
			bottomLeft, bottomRight := corner{x, y + 1}, corner{x + 1, y + 1}
			if !isBlack(y-1, x) {
				edge(topLeft, topRight)
			}
			if !isBlack(y, x+1) {
				edge(topRight, bottomRight)
			}
			if !isBlack(y+1, x) {
				edge(bottomRight, bottomLeft)
			}
			if !isBlack(y, x-1) {
				edge(bottomLeft, topLeft)
			}
		}
	}
	return next
}

// follow takes edges out of next, from start until it is back there. Where two
// modules touch at a corner only, either way on is right: the even-odd rule
// fills the same region.
func follow(next map[corner][]corner, start corner) []corner {
	var loop []corner
	for at := start; ; {
		loop = append(loop, at)
		to := next[at][0]
		next[at] = next[at][1:]
		if at = to; at == start {
			return loop
		}
	}
}

// withoutCollinear drops the corners at which a loop goes straight on.
func withoutCollinear(loop []corner) []corner {
	var kept []corner
	for i, at := range loop {
		before, after := loop[(i+len(loop)-1)%len(loop)], loop[(i+1)%len(loop)]
		straight := (before.x == at.x && at.x == after.x) || (before.y == at.y && at.y == after.y)
		if !straight {
			kept = append(kept, at)
		}
	}
	return kept
}
