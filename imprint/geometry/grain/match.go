package grain

import (
	"math"
	"math/rand/v2"
)

const (
	leastScore = 0.55 // correlation below which a patch is not recognised
	// A neighbour bears a patch out whose plane, carried on to it, lies within this many mm of its own.
	likeDepth  = 0.8
	leastAlike = 2 // neighbours
	// shape is the effective number of independent samples over the number of samples: the raster is blurred.
	shape = 0.3
	// atLeast is the standard uncertainty in mm that a patch's place has at the least: a patch is no plane.
	atLeast = 0.05
)

// Find returns the points of the pad that are recognised in the first view and in at least one other.
func Find(views []View) []Match {
	if len(views) < 2 {
		return nil
	}
	m := &matcher{views: views, details: detailsOf(views, nil), random: rand.New(rand.NewPCG(11, 13))}
	m.spread()
	m.search()
	var found []Match
	for k := range m.patches {
		p := &m.patches[k]
		if p.own == nil || p.score < leastScore || m.alike(k) < leastAlike {
			continue
		}
		if f, ok := m.matchOf(p); ok {
			found = append(found, f)
		}
	}
	return found
}

// alike is how many neighbours of a patch bear it out.
func (m *matcher) alike(k int) (n int) {
	p := &m.patches[k]
	for _, b := range m.beside(k) {
		q := &m.patches[b]
		if q.own != nil && q.score >= leastScore &&
			math.Abs(q.plane.z+q.plane.byX*(p.x-q.x)+q.plane.byY*(p.y-q.y)-p.plane.z) < likeDepth {
			n++
		}
	}
	return n
}

// matchOf settles where each view shows the patch, by the top of its correlation.
func (m *matcher) matchOf(p *patch) (Match, bool) {
	f := Match{Seen: make([]Seen, len(m.views))}
	seen := 0
	for v := 1; v < len(m.views); v++ {
		sx, sy, u, ok := m.top(v, p)
		if !ok {
			continue
		}
		x, y := m.seenAt(v, p, p.plane, 0, 0)
		f.Seen[v] = Seen{U: math.Hypot(u, atLeast)}
		f.Seen[v].At.X, f.Seen[v].At.Y = x+sx, y+sy
		seen++
	}
	f.Seen[0] = Seen{At: p.place(), U: atLeast}
	return f, seen > 0
}

// top is the shift in mm at which view v is most like the patch, with its standard uncertainty: of a
// correlation c with n independent samples, -(1 - c) / (n c”) is the shift's variance.
func (m *matcher) top(v int, p *patch) (sx, sy, u float64, ok bool) {
	const h = 0.25
	var c [3][3]float64
	for range 3 {
		for j := range 3 {
			for i := range 3 {
				if c[j][i], ok = m.correlation(v, p, p.plane, sx+h*float64(i-1), sy+h*float64(j-1)); !ok {
					return 0, 0, 0, false
				}
			}
		}
		bx, by := (c[1][2]-c[1][0])/(2*h), (c[2][1]-c[0][1])/(2*h)
		xx, yy := (c[1][2]-2*c[1][1]+c[1][0])/(h*h), (c[2][1]-2*c[1][1]+c[0][1])/(h*h)
		xy := (c[2][2] - c[2][0] - c[0][2] + c[0][0]) / (4 * h * h)
		det := xx*yy - xy*xy
		if !(xx < 0) || !(det > 0) {
			return 0, 0, 0, false
		}
		dx, dy := -(bx*yy-by*xy)/det, -(by*xx-bx*xy)/det
		if math.Hypot(dx, dy) > 0.6 || math.Hypot(sx+dx, sy+dy) > 1 {
			return 0, 0, 0, false
		}
		sx, sy = sx+dx, sy+dy
		u = math.Sqrt((1 - math.Min(c[1][1], 0.999)) / (shape * float64(len(p.samples))) * math.Max(-xx, -yy) / det)
		if math.Hypot(dx, dy) < 0.005 {
			break
		}
	}
	return sx, sy, u, c[1][1] >= leastScore-0.1
}
