package grain

import (
	"math"
	"math/rand/v2"

	"sitspan/imprint/geometry/raster"
)

// plane is a patch's: its depth below the frame's plane where the first photo sees its middle, and its slopes
// along the first photo's x and y on that plane.
type plane struct{ z, byX, byY float64 } // mm, mm/mm

// bend is how a patch leaves its plane: its second derivatives along x, x and y, and y, 1/mm.
type bend struct{ xx, xy, yy float64 }

// patch is one place that is looked for, and the best that was found.
type patch struct {
	x, y    float64 // where the first photo sees its middle on the frame's plane, mm
	samples [][2]float64
	own     []float32 // what the first photo shows there
	plane   plane
	bend    bend    // known beforehand, or none
	score   float64 // mean correlation with the other photos, -1 to 1
}

// The patch's samples, and what is searched.
const (
	apart    = 7.5  // mm between patches: half of one is the next one's
	Radius   = 4.5  // mm of a patch
	lattice  = 0.5  // mm between the samples of a patch, of whatever size
	least    = -2.0 // mm, shallowest depth
	most     = 45.0 // mm, deepest (an assumption)
	sweep    = 0.4  // mm between the depths that are tried first
	steepest = 0.8  // mm/mm
	rounds   = 4
)

// disc are the samples of a round patch, mm about its middle.
func disc(radius float64) (samples [][2]float64) {
	for v := -radius; v <= radius; v += lattice {
		for u := -radius; u <= radius; u += lattice {
			if u*u+v*v <= radius*radius {
				samples = append(samples, [2]float64{u, v})
			}
		}
	}
	return samples
}

// matcher compares one photo with the others.
type matcher struct {
	views   []View
	details []detail
	patches []patch
	random  *rand.Rand
	columns int
}

// seenAt is where view v sees the point of a patch's plane that the first view sees at offset (du, dv) from
// its middle.
func (m *matcher) seenAt(v int, p *patch, q plane, du, dv float64) (x, y float64) {
	a, b := &m.views[0], &m.views[v]
	x0, y0 := p.x+du, p.y+dv
	z := q.z + (q.byX+p.bend.xx*du/2+p.bend.xy*dv)*du + (q.byY+p.bend.yy*dv/2)*dv
	wx, wy := x0+(x0-a.X)*z/a.Height, y0+(y0-a.Y)*z/a.Height // equation (1)
	shrink := b.Height / (b.Height + z)
	return b.X + (wx-b.X)*shrink, b.Y + (wy-b.Y)*shrink
}

// correlation of a patch in view v, moved by (sx, sy) mm, with the first view's; false where it is not all in
// the window.
func (m *matcher) correlation(v int, p *patch, q plane, sx, sy float64) (float64, bool) {
	var sum, squares, cross float64
	for k, s := range p.samples {
		x, y := m.seenAt(v, p, q, s[0], s[1])
		g, ok := m.details[v].at(x+sx, y+sy)
		if !ok {
			return 0, false
		}
		f := float64(g)
		sum += f
		squares += f * f
		cross += f * float64(p.own[k])
	}
	n := float64(len(p.samples))
	variance := squares/n - sum*sum/(n*n)
	if !(variance > 1e-9) {
		return 0, true
	}
	return cross / n / math.Sqrt(variance), true // own has mean 0 and variance 1
}

// scoreOf is the mean correlation with the other views that show the whole patch; at least one must.
func (m *matcher) scoreOf(p *patch, q plane) float64 {
	sum, n := 0.0, 0
	for v := 1; v < len(m.views); v++ {
		if c, ok := m.correlation(v, p, q, 0, 0); ok {
			sum, n = sum+c, n+1
		}
	}
	if n == 0 {
		return -1
	}
	return sum / float64(n)
}

// try takes a plane if it fits better.
func (m *matcher) try(p *patch, q plane) {
	if q.z < least || q.z > most || math.Abs(q.byX) > steepest || math.Abs(q.byY) > steepest {
		return
	}
	if s := m.scoreOf(p, q); s > p.score {
		p.plane, p.score = q, s
	}
}

// newPatch reads the first view; false where the patch is not all in the window or shows nothing.
func (m *matcher) newPatch(x, y float64, samples [][2]float64) (patch, bool) {
	p := patch{x: x, y: y, samples: samples, score: -1, own: make([]float32, len(samples))}
	var sum, squares float64
	for k, s := range samples {
		g, ok := m.details[0].at(x+s[0], y+s[1])
		if !ok {
			return p, false
		}
		p.own[k] = g
		sum += float64(g)
		squares += float64(g) * float64(g)
	}
	n := float64(len(samples))
	variance := squares/n - sum*sum/(n*n)
	if !(variance > 0.02) {
		return p, false
	}
	for k := range p.own {
		p.own[k] = float32((float64(p.own[k]) - sum/n) / math.Sqrt(variance))
	}
	return p, true
}

// spread lays the patches out over the window.
func (m *matcher) spread() {
	w, samples := m.views[0].Raster.Window, disc(Radius)
	for y := -w.HalfHeight + Radius + 1; y <= w.HalfHeight-Radius-1; y += apart {
		for x := -w.HalfWidth + Radius + 1; x <= w.HalfWidth-Radius-1; x += apart {
			p, ok := m.newPatch(x, y, samples)
			if !ok {
				p.own = nil
			}
			m.patches = append(m.patches, p)
		}
		if m.columns == 0 {
			m.columns = len(m.patches)
		}
	}
}

// search finds each patch's plane: a sweep over depths, then in turns what its neighbours found and a smaller
// and smaller random change of its own.
func (m *matcher) search() {
	for k := range m.patches {
		p := &m.patches[k]
		if p.own == nil {
			continue
		}
		for z := least; z <= most; z += sweep {
			m.try(p, plane{z: z})
		}
	}
	for round := range rounds {
		for i := range m.patches {
			k := i
			if round%2 == 1 {
				k = len(m.patches) - 1 - i
			}
			p := &m.patches[k]
			if p.own == nil {
				continue
			}
			for _, n := range m.beside(k) {
				if q := &m.patches[n]; q.own != nil {
					m.try(p, plane{q.plane.z + q.plane.byX*(p.x-q.x) + q.plane.byY*(p.y-q.y), q.plane.byX, q.plane.byY})
				}
			}
			for scale := 1.0; scale > 0.02; scale /= 2 {
				q := p.plane
				q.z += 2 * scale * m.random.NormFloat64()
				q.byX += 0.3 * scale * m.random.NormFloat64()
				q.byY += 0.3 * scale * m.random.NormFloat64()
				m.try(p, q)
			}
		}
	}
}

// beside are the patches next to one.
func (m *matcher) beside(k int) (list []int) {
	i := k % m.columns
	if i > 0 {
		list = append(list, k-1)
	}
	if i < m.columns-1 {
		list = append(list, k+1)
	}
	if k >= m.columns {
		list = append(list, k-m.columns)
	}
	if k+m.columns < len(m.patches) {
		list = append(list, k+m.columns)
	}
	return list
}

// place of a patch's middle as a point of the plane.
func (p *patch) place() raster.Point { return raster.Point{X: p.x, Y: p.y} }
