package bundle

import (
	"math"

	"gonum.org/v1/gonum/blas/blas64"
	"gonum.org/v1/gonum/mat"
)

// normal are the normal equations: a block for what all share, one of three for each tie point, and what
// couples them.
type normal struct {
	shared *mat.SymDense // n x n
	right  []float64     // n
	points []pointBlock
	// coupling holds W, 3 columns a point: of the shared unknowns the first rows alone, poses and cameras.
	coupling blas64.General
}

// pointBlock is a tie point's own part: V and its right side.
type pointBlock struct {
	v     [3][3]float64
	right Vec
}

// viewCount is how many of the shared unknowns one photo's sights depend on.
const viewCount = poseCount + cameraCount

// viewBlock is what one photo's sights of tie points say of its pose and its camera: the upper triangle.
type viewBlock struct {
	n     [viewCount][viewCount]float64
	right [viewCount]float64
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
	n.coupling = zeros(viewCount*p.layout.views, 3*len(n.points))
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
	blocks := make([]viewBlock, p.layout.views)
	for k, o := range p.scene.TieSeen {
		if p.tieWeight[k] == 0 {
			continue
		}
		res, _ := p.residual(&p.at, o, p.at.ties[o.Point], &d)
		u := o.U * p.tieFactor
		w := p.tieWeight[k] / (u * u)
		for i := range 2 {
			r := d.byView(i)
			blocks[o.View].add(&r, w, res[i])
			n.points[o.Point].add(d.byPoint[i], w, res[i])
			p.couple(n, o, &r, d.byPoint[i], w)
		}
	}
	for v := range blocks {
		for a, from := range blocks[v].right {
			i := p.layout.ofView(v, a)
			n.right[i] += from
			for b := a; b < viewCount; b++ {
				j := p.layout.ofView(v, b) // poses stand before cameras: j >= i
				n.shared.SetSym(i, j, n.shared.At(i, j)+blocks[v].n[a][b])
			}
		}
	}
}

// ofView is where the unknown k of a photo stands, its pose's first.
func (l layout) ofView(view, k int) int {
	if k < poseCount {
		return l.pose(view) + k
	}
	return l.camera(view) + k - poseCount
}

// byView are the derivatives of a coordinate by the photo's unknowns.
func (d *partials) byView(i int) (r [viewCount]float64) {
	copy(r[:], d.byPose[i][:])
	copy(r[poseCount:], d.byCamera[i][:])
	return r
}

func (b *viewBlock) add(r *[viewCount]float64, w, residual float64) {
	for i, v := range r {
		b.right[i] += w * v * residual
		row := &b.n[i]
		for j := i; j < viewCount; j++ {
			row[j] += w * v * r[j]
		}
	}
}

func (b *pointBlock) add(byPoint [3]float64, w, residual float64) {
	for i := range 3 {
		b.right[i] += w * byPoint[i] * residual
		for j := range 3 {
			b.v[i][j] += w * byPoint[i] * byPoint[j]
		}
	}
}

// couple adds what one coordinate of a sight has of W.
func (p *problem) couple(n *normal, o Seen, r *[viewCount]float64, byPoint [3]float64, w float64) {
	for a, v := range r {
		at := n.coupling.Data[p.layout.ofView(o.View, a)*n.coupling.Stride+3*o.Point:]
		for i := range 3 {
			at[i] += w * v * byPoint[i]
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
