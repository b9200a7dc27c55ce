package bundle

import (
	"math"

	"gonum.org/v1/gonum/blas"
	"gonum.org/v1/gonum/blas/blas64"
	"gonum.org/v1/gonum/lapack/lapack64"
	"gonum.org/v1/gonum/mat"
)

func zeros(rows, columns int) blas64.General {
	data := make([]float64, rows*columns)
	return blas64.General{Rows: rows, Cols: columns, Stride: max(1, columns), Data: data}
}

// reduced eliminates the points: the Schur complement of the shared unknowns and its right side. Of a point's
// inverse M M' the complement takes (W M)(W M)', all points in one product.
func (n *normal) reduced(damping float64) (schur *mat.SymDense, right []float64, inverses [][3][3]float64,
	ok bool) {
	schur = mat.NewSymDense(len(n.right), nil)
	schur.CopySym(n.shared)
	for i := range n.right {
		schur.SetSym(i, i, schur.At(i, i)*(1+damping))
	}
	right = append([]float64(nil), n.right...)
	inverses = make([][3][3]float64, len(n.points))
	scaled, to := zeros(n.coupling.Rows, n.coupling.Cols), make([]float64, n.coupling.Cols)
	for k := range n.points {
		b := &n.points[k]
		if inverses[k], ok = b.inverse(damping); !ok {
			return nil, nil, nil, false
		}
		root, positive := rootOf(inverses[k])
		if !positive {
			return nil, nil, nil, false
		}
		n.scale(k, &root, scaled)
		for c := range 3 {
			to[3*k+c] = root[0][c]*b.right[0] + root[1][c]*b.right[1] + root[2][c]*b.right[2]
		}
	}
	if len(n.points) == 0 {
		return schur, right, inverses, true
	}
	raw := schur.RawSymmetric()
	raw.N = scaled.Rows
	blas64.Syrk(blas.NoTrans, -1, scaled, 1, raw)
	blas64.Gemv(blas.NoTrans, -1, scaled, vector(to), 1, vector(right[:scaled.Rows]))
	return schur, right, inverses, true
}

func vector(v []float64) blas64.Vector { return blas64.Vector{N: len(v), Inc: 1, Data: v} }

// scale is W M for one point.
func (n *normal) scale(point int, root *[3][3]float64, out blas64.General) {
	for a := range n.coupling.Rows {
		w := n.coupling.Data[a*n.coupling.Stride+3*point:][:3]
		to := out.Data[a*out.Stride+3*point:][:3]
		to[0] = w[0]*root[0][0] + w[1]*root[1][0] + w[2]*root[2][0]
		to[1] = w[1]*root[1][1] + w[2]*root[2][1]
		to[2] = w[2] * root[2][2]
	}
}

// rootOf is the lower triangle M of m = M M'; false where m is not positive definite.
func rootOf(m [3][3]float64) (root [3][3]float64, ok bool) {
	for i := range 3 {
		for j := range i + 1 {
			sum := m[i][j]
			for k := range j {
				sum -= root[i][k] * root[j][k]
			}
			switch {
			case i != j:
				root[i][j] = sum / root[j][j]
			case sum > 0:
				root[i][i] = math.Sqrt(sum)
			default:
				return root, false
			}
		}
	}
	return root, true
}

func product(m [3][3]float64, v Vec) (out Vec) {
	for i := range 3 {
		out[i] = m[i][0]*v[0] + m[i][1]*v[1] + m[i][2]*v[2]
	}
	return out
}

// step is the state after one damped Gauss-Newton step.
func (p *problem) step(n *normal, damping float64) (next state, ok bool) {
	schur, right, inverses, ok := n.reduced(damping)
	if !ok {
		return next, false
	}
	// The factorisation alone: gonum's Cholesky also estimates its condition, of unknowns in all units.
	t, ok := lapack64.Potrf(schur.RawSymmetric())
	if !ok {
		return next, false
	}
	lapack64.Potrs(t, blas64.General{Rows: len(right), Cols: 1, Stride: 1, Data: right})
	m := right
	next = p.at.moved(p.layout, m)
	if len(n.points) == 0 {
		return next, true
	}
	by := make([]float64, n.coupling.Cols) // W' m
	blas64.Gemv(blas.Trans, 1, n.coupling, vector(m[:n.coupling.Rows]), 0, vector(by))
	for k := range n.points {
		rest := n.points[k].right
		for c := range 3 {
			rest[c] -= by[3*k+c]
		}
		d := product(inverses[k], rest)
		for c := range 3 {
			next.ties[k][c] += d[c]
		}
	}
	return next, true
}

// share is what a change of the shared unknowns moves a point by, 3 x n.
func (n *normal) share(point int, inverse [3][3]float64) *mat.Dense {
	out := mat.NewDense(3, len(n.right), nil)
	for a := range n.coupling.Rows {
		g := product(inverse, Vec(n.coupling.Data[a*n.coupling.Stride+3*point:][:3]))
		for r := range 3 {
			out.Set(r, a, -g[r])
		}
	}
	return out
}
