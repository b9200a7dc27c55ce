package bundle

import (
	"math"

	"gonum.org/v1/gonum/mat"
)

// normal are the normal equations, a block for what all share and one of three for each tie point.
type normal struct {
	shared *mat.SymDense // n x n
	right  []float64     // n
	points []pointBlock
}

// pointBlock is a tie point's part: V, W' and its right side.
type pointBlock struct {
	v     [3][3]float64
	right Vec
	// cross are the columns of the shared unknowns that the point's sights touch: index, and three rows.
	index []int
	cross [][3]float64
}

// row is one observation's derivative by the shared unknowns: few of them.
type row struct {
	count int
	index [poseCount + cameraCount + frameCount + 1]int
	value [poseCount + cameraCount + frameCount + 1]float64
}

func (r *row) add(from int, values ...float64) {
	for k, v := range values {
		r.index[r.count], r.value[r.count] = from+k, v
		r.count++
	}
}

// normal sets the equations up at the present state.
func (p *problem) normal() *normal {
	n := &normal{shared: mat.NewSymDense(p.layout.count(), nil), right: make([]float64, p.layout.count())}
	n.points = make([]pointBlock, len(p.at.ties))
	p.addControls(n)
	p.addTies(n)
	p.addPriors(n)
	return n
}

func (n *normal) addShared(r *row, weight, residual float64) {
	raw := n.shared.RawSymmetric()
	for a, i := range r.index[:r.count] {
		wa := weight * r.value[a]
		n.right[i] += wa * residual
		to := raw.Data[i*raw.Stride : (i+1)*raw.Stride] // the upper triangle holds the matrix
		for b, j := range r.index[:r.count] {
			if j >= i {
				to[j] += wa * r.value[b]
			}
		}
	}
}

func (p *problem) addControls(n *normal) {
	var d partials
	for k, o := range p.scene.ControlSeen {
		x, byStretch, bySkew := p.at.place(p.scene.Controls[o.Point], p.at.bow[o.Point])
		res, _ := p.residual(&p.at, o, x, &d)
		u := o.U * p.controlFactor
		w := p.controlWeight[k] / (u * u)
		for i := range 2 {
			var r row
			p.addViewColumns(&r, o.View, i, &d)
			r.add(p.layout.frame(), along(d.byPoint[i], byStretch), along(d.byPoint[i], bySkew))
			r.add(p.layout.bow(o.Point), d.byPoint[i][2])
			n.addShared(&r, w, res[i])
		}
	}
}

func (p *problem) addViewColumns(r *row, view, i int, d *partials) {
	r.add(p.layout.pose(view), d.byPose[i][:]...)
	r.add(p.layout.camera(view), d.byCamera[i][:]...)
}

func along(a [3]float64, b Vec) float64 { return a[0]*b[0] + a[1]*b[1] + a[2]*b[2] }

func (p *problem) addTies(n *normal) {
	var d partials
	for k, o := range p.scene.TieSeen {
		if p.tieWeight[k] == 0 {
			continue
		}
		res, _ := p.residual(&p.at, o, p.at.ties[o.Point], &d)
		u := o.U * p.tieFactor
		w := p.tieWeight[k] / (u * u)
		b := &n.points[o.Point]
		for i := range 2 {
			var r row
			p.addViewColumns(&r, o.View, i, &d)
			n.addShared(&r, w, res[i])
			b.add(&r, d.byPoint[i], w, res[i])
		}
	}
}

func (b *pointBlock) add(r *row, byPoint [3]float64, w, residual float64) {
	for i := range 3 {
		b.right[i] += w * byPoint[i] * residual
		for j := range 3 {
			b.v[i][j] += w * byPoint[i] * byPoint[j]
		}
	}
	for a, index := range r.index[:r.count] {
		at := -1
		for k, i := range b.index {
			if i == index {
				at = k
			}
		}
		if at < 0 {
			at = len(b.index)
			b.index, b.cross = append(b.index, index), append(b.cross, [3]float64{})
		}
		for i := range 3 {
			b.cross[at][i] += w * r.value[a] * byPoint[i]
		}
	}
}

func (p *problem) addPriors(n *normal) {
	add := func(i int, t term) {
		n.shared.SetSym(i, i, n.shared.At(i, i)+1/(t.u*t.u))
		n.right[i] -= t.value / (t.u * t.u)
	}
	for v, view := range p.scene.Views {
		for k, t := range view.Camera.terms(p.at.lenses[v]) {
			add(p.layout.camera(v)+1+k, t)
		}
	}
	n.addDense(p.focalInv, p.focals(&p.at), p.layout.camera)
	n.addDense(p.bowInv, p.at.bow, p.layout.bow)
	add(p.layout.frame(), term{p.at.stretch, p.scene.Frame.StretchU})
	add(p.layout.frame()+1, term{p.at.skew, p.scene.Frame.SkewU})
}

// addDense adds unknowns that are known beforehand together: by the inverse of their covariance.
func (n *normal) addDense(inverse *mat.SymDense, value []float64, index func(int) int) {
	for a := range value {
		i := index(a)
		for b := range value {
			if j := index(b); j >= i {
				n.shared.SetSym(i, j, n.shared.At(i, j)+inverse.At(a, b))
			}
			n.right[i] -= inverse.At(a, b) * value[b]
		}
	}
}

// leastKnown keeps a point that only one photo sees from being singular: 1 / (100 mm)^2.
const leastKnown = 1e-4

// inverse of the point's own block.
func (b *pointBlock) inverse(damping float64) (inv [3][3]float64, ok bool) {
	m := b.v
	for i := range 3 {
		m[i][i] = m[i][i]*(1+damping) + leastKnown
	}
	minor := func(i, j, k, l int) float64 { return m[i][k]*m[j][l] - m[i][l]*m[j][k] }
	inv = [3][3]float64{
		{minor(1, 2, 1, 2), -minor(0, 2, 1, 2), minor(0, 1, 1, 2)},
		{-minor(1, 2, 0, 2), minor(0, 2, 0, 2), -minor(0, 1, 0, 2)},
		{minor(1, 2, 0, 1), -minor(0, 2, 0, 1), minor(0, 1, 0, 1)},
	}
	det := m[0][0]*inv[0][0] + m[0][1]*inv[1][0] + m[0][2]*inv[2][0]
	if !(det > 0) {
		return inv, false
	}
	for i := range 3 {
		for j := range 3 {
			inv[i][j] /= det
		}
	}
	return inv, true
}

// reduced eliminates the points: the Schur complement of the shared unknowns and its right side.
func (n *normal) reduced(damping float64) (schur *mat.SymDense, right []float64, inverses [][3][3]float64,
	ok bool) {
	schur = mat.NewSymDense(len(n.right), nil)
	schur.CopySym(n.shared)
	for i := range n.right {
		schur.SetSym(i, i, schur.At(i, i)*(1+damping))
	}
	right = append([]float64(nil), n.right...)
	inverses = make([][3][3]float64, len(n.points))
	raw := schur.RawSymmetric()
	for k := range n.points {
		b := &n.points[k]
		if inverses[k], ok = b.inverse(damping); !ok {
			return nil, nil, nil, false
		}
		for a, i := range b.index {
			g := product(inverses[k], b.cross[a])
			right[i] -= along(g, b.right)
			to := raw.Data[i*raw.Stride : (i+1)*raw.Stride]
			for c, j := range b.index {
				if j >= i {
					to[j] -= along(g, b.cross[c])
				}
			}
		}
	}
	return schur, right, inverses, true
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
	var chol mat.Cholesky
	if !chol.Factorize(schur) {
		return next, false
	}
	var move mat.VecDense
	if chol.SolveVecTo(&move, mat.NewVecDense(len(right), right)) != nil {
		return next, false
	}
	m := move.RawVector().Data
	next = p.at.moved(p.layout, m)
	for k := range n.points {
		b := &n.points[k]
		rest := b.right
		for a, i := range b.index {
			for c := range 3 {
				rest[c] -= b.cross[a][c] * m[i]
			}
		}
		d := product(inverses[k], rest)
		for c := range 3 {
			next.ties[k][c] += d[c]
		}
	}
	return next, true
}

// moved is the state after a change of the shared unknowns.
func (s *state) moved(l layout, m []float64) state {
	next := state{stretch: s.stretch + m[l.frame()], skew: s.skew + m[l.frame()+1]}
	for v, old := range s.poses {
		at := m[l.pose(v):]
		q := pose{turned(old.rotation, Vec{at[0], at[1], at[2]}), old.position}
		for k := range 3 {
			q.position[k] += at[3+k]
		}
		next.poses = append(next.poses, q)
	}
	for c, old := range s.lenses {
		at := m[l.camera(c):]
		next.lenses = append(next.lenses, lens{old.focal * math.Exp(at[0]), old.k1 + at[1], old.k2 + at[2], old.cx +
			at[3], old.cy + at[4]})
	}
	for i, b := range s.bow {
		next.bow = append(next.bow, b+m[l.bow(i)])
	}
	next.ties = append([]Vec(nil), s.ties...)
	return next
}
