package contour

import "math"

// Line is a line of equal value. A closed one ends where it begins.
type Line []Point

// Closed tells whether the line comes back to its beginning.
func (l Line) Closed() bool { return len(l) > 2 && l[0] == l[len(l)-1] }

// Length is the line's length in mm.
func (l Line) Length() (sum float64) {
	for i := 1; i < len(l); i++ {
		sum += math.Hypot(l[i].X-l[i-1].X, l[i].Y-l[i-1].Y)
	}
	return sum
}

// edge is a side of a cell: from grid point at to the next one along x, or down.
type edge struct {
	at   int // index into Z
	down bool
}

// piece is a line's way through one cell, the larger values on its left as seen
// with y down.
type piece struct{ from, to edge }

// Lines are the lines of a level: open ones first, which end at the grid's
// border or at a hole, then closed ones. A value that equals the level counts
// as above it.
//
// The method is marching squares, a two-dimensional case of Lorensen and Cline,
// Computer Graphics 21 (1987) 163 (page from memory; the paper settles it).
func (g Grid) Lines(level float64) []Line {
	if g.Check() != nil || !finite(level) {
		return nil
	}
	var pieces []piece
	for j := range g.Rows - 1 {
		for i := range g.Columns - 1 {
			pieces = append(pieces, g.cell(i, j, level)...)
		}
	}
	return g.joined(pieces, level)
}

// cell is how the lines of a level cross a cell.
func (g Grid) cell(i, j int, level float64) []piece {
	at := j*g.Columns + i
	corners := [4]float64{g.z(i, j), g.z(i+1, j), g.z(i+1, j+1), g.z(i, j+1)} // clockwise on a page
	sides := [4]edge{{at, false}, {at + 1, true}, {at + g.Columns, false}, {at, true}}
	var out, in []edge // sides by which the values above leave and enter, going clockwise
	sum := 0.0
	for k, z := range corners {
		if !finite(z) {
			return nil
		}
		sum += z
		next := corners[(k+1)%4]
		switch {
		case z >= level && next < level:
			out = append(out, sides[k])
		case z < level && next >= level:
			in = append(in, sides[k])
		}
	}
	switch len(out) {
	case 0:
		return nil
	case 1:
		return []piece{{out[0], in[0]}}
	}
	// A saddle: out and in take turns. What lies in the middle joins two corners,
	// and each line cuts one of the others off.
	if middleAbove := sum/4 >= level; middleAbove != (corners[0] >= level) {
		in[0], in[1] = in[1], in[0]
	}
	return []piece{{out[0], in[0]}, {out[1], in[1]}}
}

// joined makes lines of pieces. Each side of a cell begins one piece at most
// and ends one at most.
func (g Grid) joined(pieces []piece, level float64) (lines []Line) {
	next, entered := make(map[edge]edge, len(pieces)), make(map[edge]bool, len(pieces))
	for _, p := range pieces {
		next[p.from], entered[p.to] = p.to, true
	}
	for _, wantOpen := range []bool{true, false} {
		for _, p := range pieces {
			if _, left := next[p.from]; left && entered[p.from] != wantOpen {
				lines = append(lines, g.followed(p.from, next, level))
			}
		}
	}
	return lines
}

// followed takes a line out of the pieces that are left.
func (g Grid) followed(from edge, next map[edge]edge, level float64) Line {
	line := Line{g.crossing(from, level)}
	for at := from; ; {
		to, more := next[at]
		if !more {
			return line
		}
		delete(next, at)
		line = append(line, g.crossing(to, level))
		at = to
	}
}

// crossing is where a level crosses a side of a cell, linear between its ends.
func (g Grid) crossing(e edge, level float64) Point {
	column, row := e.at%g.Columns, e.at/g.Columns
	other := e.at + 1
	if e.down {
		other = e.at + g.Columns
	}
	t := (level - g.Z[e.at]) / (g.Z[other] - g.Z[e.at])
	p := Point{g.X(column), g.Y(row)}
	if e.down {
		p.Y += t * g.Step
	} else {
		p.X += t * g.Step
	}
	return p
}
