package surface

import (
	"math"

	"gonum.org/v1/gonum/blas/blas64"
)

// uncertainStep is the step in mm on which the surface's uncertainty is worked out; between, it is
// interpolated: it is as smooth as the heights are apart.
const uncertainStep = 6.0

// WithU returns the surface on a grid over the bounds, each cell with its standard uncertainty: what the
// heights leave open, and what the shared unknowns do (nil for none).
func (s *Surface) WithU(b Bounds, step float64, shared *Shared) (*Grid, error) {
	g := s.Sampled(b, step)
	wide := newGrid(Bounds{b.HalfWidth + uncertainStep, b.HalfHeight + uncertainStep}, uncertainStep)
	var places [][2]float64
	for j := range wide.Rows {
		for i := range wide.Columns {
			places = append(places, [2]float64{wide.X(i), wide.Y(j)})
		}
	}
	u, err := s.UAtAll(places, shared)
	if err != nil {
		return nil, err
	}
	wide.Z = u
	g.U = make([]float64, len(g.Z))
	for j := range g.Rows {
		for i := range g.Columns {
			g.U[j*g.Columns+i] = wide.between(g.X(i), g.Y(j))
		}
	}
	return g, nil
}

// UAtAll are the standard uncertainties at many places, mm.
func (s *Surface) UAtAll(places [][2]float64, shared *Shared) ([]float64, error) {
	cross := s.cross(places)
	white, err := s.whitened(cross)
	if err != nil {
		return nil, err
	}
	u := make([]float64, len(places))
	for k, p := range places {
		w := vector(white.RawRowView(k))
		u[k] = s.covariance(p[0], p[1], p[0], p[1]) - blas64.Dot(w, w)
	}
	if shared != nil {
		root, err := s.sharedRoot(cross, shared)
		if err != nil {
			return nil, err
		}
		for k := range u {
			w := vector(root.RawRowView(k))
			u[k] += blas64.Dot(w, w)
		}
	}
	for k := range u {
		u[k] = math.Sqrt(math.Max(0, u[k]))
	}
	return u, nil
}

// UAt is the standard uncertainty at a place, mm, of a grid that has it; the nearest cell's beyond its edge.
func (g *Grid) UAt(x, y float64) float64 {
	h := *g
	h.Z = g.U
	halfX, halfY := float64(g.Columns-1)/2*g.Step, float64(g.Rows-1)/2*g.Step
	return h.between(math.Min(math.Max(x, -halfX), halfX), math.Min(math.Max(y, -halfY), halfY))
}

// between is the grid's value at a place, bilinear; the place lies within the grid.
func (g *Grid) between(x, y float64) float64 {
	i, j := x/g.Step+float64(g.Columns-1)/2, y/g.Step+float64(g.Rows-1)/2
	a, b := min(int(i), g.Columns-2), min(int(j), g.Rows-2)
	fx, fy := i-float64(a), j-float64(b)
	k := b*g.Columns + a
	top := g.Z[k]*(1-fx) + g.Z[k+1]*fx
	return top*(1-fy) + (g.Z[k+g.Columns]*(1-fx)+g.Z[k+g.Columns+1]*fx)*fy
}
