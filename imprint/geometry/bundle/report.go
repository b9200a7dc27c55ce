package bundle

import (
	"fmt"
	"math"
	"slices"

	"gonum.org/v1/gonum/mat"
)

const (
	tukey     = 4.685  // Tukey's constant, standard deviations
	huber     = 1.345  // Huber's, likewise
	normalMAD = 1.4826 // standard deviation of a normal distribution over its median absolute deviation
	// leastFactor keeps the residuals from claiming that sights are far better than they said: a fit with few
	// observations follows them.
	leastFactor = 0.7
)

// reweigh estimates the sights' scale from their residuals and gives each its robust weight: Huber's at
// first, which leaves none out, then Tukey's.
func (p *problem) reweigh(cut bool) {
	if n := len(p.scene.ControlSeen); n > 0 {
		p.controlFactor = p.weigh(p.scene.ControlSeen, p.controlWeight, cut, p.freedom(n, 2*n-p.layout.count()/2),
			func(i int) Vec {
				x, _, _ := p.at.place(p.scene.Controls[i], p.at.bow[i])
				return x
			})
	}
	if n := len(p.scene.TieSeen); n > 0 {
		p.tieFactor = p.weigh(p.scene.TieSeen, p.tieWeight, cut, p.freedom(n, 2*n-3*len(p.at.ties)),
			func(i int) Vec { return p.at.ties[i] })
	}
}

// freedom is the root of the share of the observations that is not used up by unknowns.
func (p *problem) freedom(sights, left int) float64 {
	return math.Sqrt(math.Max(0.1, float64(left)/float64(2*sights)))
}

func (p *problem) weigh(list []Seen, weight []float64, cut bool, freedom float64,
	at func(int) Vec) (factor float64) {
	norm := make([]float64, len(list)) // |residual| in stated standard uncertainties
	var both []float64
	for k, o := range list {
		r, _ := p.residual(&p.at, o, at(o.Point), nil)
		norm[k] = math.Hypot(r[0], r[1]) / o.U
		both = append(both, math.Abs(r[0])/o.U, math.Abs(r[1])/o.U)
	}
	slices.Sort(both)
	factor = math.Max(leastFactor, normalMAD*both[len(both)/2]/freedom)
	for k, v := range norm {
		v /= factor * freedom * math.Sqrt2 // per coordinate
		switch {
		case !cut:
			weight[k] = math.Min(1, huber/math.Max(v, 1e-12))
		case v >= tukey:
			weight[k] = 0
		default:
			t := 1 - v*v/(tukey*tukey)
			weight[k] = t * t
		}
	}
	return factor
}

// report works the covariance out. Weights enter as they are: a sight of half the weight says half as much.
func (p *problem) report() (*Adjusted, error) {
	n := p.normal()
	schur, _, inverses, ok := n.reduced(0)
	shared, solved := inverseInUnits(schur)
	if !ok || !solved {
		return nil, fmt.Errorf("bundle: the photos do not fix where they were taken from: %w", ErrTooLittle)
	}
	a := &Adjusted{Ties: p.at.ties, Bow: p.at.bow, Stretch: p.at.stretch, ControlWeights: p.controlWeight,
		TieWeights:    p.tieWeight,
		ControlFactor: p.controlFactor, TieFactor: p.tieFactor, layout: p.layout, Shared: shared}
	for k := range n.points {
		a.Share = append(a.Share, n.share(k, inverses[k]))
		a.Own = append(a.Own, Covariance(inverses[k]))
	}
	for i := range p.at.bow {
		j := p.layout.bow(i)
		a.BowU = append(a.BowU, math.Sqrt(a.Shared.At(j, j)))
	}
	for _, q := range p.at.poses {
		a.Poses = append(a.Poses, Pose{q.rotation, q.position})
	}
	for c, l := range p.at.lenses {
		i := p.layout.camera(c)
		a.Lenses = append(a.Lenses, Lens{l.focal, l.focal * math.Sqrt(a.Shared.At(i, i)), l.k1, l.k2,
			[2]float64{l.cx, l.cy}})
	}
	for _, o := range p.scene.ControlSeen {
		x, _, _ := p.at.place(p.scene.Controls[o.Point], p.at.bow[o.Point])
		r, _ := p.residual(&p.at, o, x, nil)
		a.ControlResiduals = append(a.ControlResiduals, r)
	}
	for _, o := range p.scene.TieSeen {
		r, _ := p.residual(&p.at, o, p.at.ties[o.Point], nil)
		a.TieResiduals = append(a.TieResiduals, r)
	}
	return a, nil
}

// inverseInUnits inverts a normal matrix, each unknown in the unit in which it is known to about 1: radians,
// millimetres and logarithms side by side would pass for near-singular where nothing is.
func inverseInUnits(m *mat.SymDense) (*mat.SymDense, bool) {
	n := m.SymmetricDim()
	unit := make([]float64, n)
	for i := range unit {
		if !(m.At(i, i) > 0) {
			return nil, false
		}
		unit[i] = 1 / math.Sqrt(m.At(i, i))
	}
	scaled, out := mat.NewSymDense(n, nil), mat.NewSymDense(n, nil)
	for i := range n {
		for j := i; j < n; j++ {
			scaled.SetSym(i, j, m.At(i, j)*unit[i]*unit[j])
		}
	}
	var chol mat.Cholesky
	if !chol.Factorize(scaled) || chol.InverseTo(out) != nil {
		return nil, false
	}
	for i := range n {
		for j := i; j < n; j++ {
			out.SetSym(i, j, out.At(i, j)*unit[i]*unit[j])
		}
	}
	return out, true
}

// Covariance of a tie point, all influences together, mm^2.
func (a *Adjusted) Covariance(tie int) (c Covariance) {
	var half, whole mat.Dense
	half.Mul(a.Share[tie], a.Shared)
	whole.Mul(&half, a.Share[tie].T())
	for i := range 3 {
		for j := range 3 {
			c[i][j] = a.Own[tie][i][j] + whole.At(i, j)
		}
	}
	return c
}

// Show returns where a photo would show a point, by the adjusted cameras; false for one behind it.
func (a *Adjusted) Show(s *Scene, view int, x Vec) (Pixel, bool) {
	v, l := s.Views[view], a.Lenses[view]
	return v.project(pose{a.Poses[view].Rotation, a.Poses[view].Position},
		lens{l.Focal, l.K1, l.K2, l.Principal[0], l.Principal[1]}, x, nil)
}

// Ray is the line of sight of a pixel: it passes through At on the plane z = 0, and at depth z through At + z
// Slope.
type Ray struct{ At, Slope [2]float64 } // mm, mm/mm

// Ray returns a pixel's line of sight by the adjusted cameras; false where it does not meet the frame's
// plane.
func (a *Adjusted) Ray(s *Scene, view int, at Pixel) (Ray, bool) {
	v, l, pose := s.Views[view], a.Lenses[view], a.Poses[view]
	half := math.Hypot(float64(v.Width), float64(v.Height)) / 2
	dx := (at[0]-(float64(v.Width)-1)/2)/half - l.Principal[0]
	dy := (at[1]-(float64(v.Height)-1)/2)/half - l.Principal[1]
	x, y := dx, dy
	for range 20 { // the lens bends by a percent, so each turn gains two digits
		r2 := x*x + y*y
		gain := 1 + r2*(l.K1+r2*l.K2)
		x, y = dx/gain, dy/gain
	}
	q := Vec{x * half / l.Focal, y * half / l.Focal, 1}
	var d Vec // in the frame's axes
	for k := range 3 {
		d[k] = pose.Rotation[k]*q[0] + pose.Rotation[3+k]*q[1] + pose.Rotation[6+k]*q[2]
	}
	if !(d[2] > 1e-6) {
		return Ray{}, false
	}
	var r Ray
	for k := range 2 {
		r.Slope[k] = d[k] / d[2]
		r.At[k] = pose.Position[k] - pose.Position[2]*r.Slope[k]
	}
	return r, true
}

// Meet is where rays come nearest to one another, by least squares over their distances along x and y, mm,
// and the root of the mean square of what they miss it by; false where they run alike.
func Meet(rays []Ray) (x Vec, miss float64, ok bool) {
	n := float64(len(rays))
	var ax, ay, sx, sy float64
	for _, r := range rays {
		ax, ay, sx, sy = ax+r.At[0]/n, ay+r.At[1]/n, sx+r.Slope[0]/n, sy+r.Slope[1]/n
	}
	var top, bottom float64
	for _, r := range rays {
		gx, gy := r.Slope[0]-sx, r.Slope[1]-sy
		top -= gx*(r.At[0]-ax) + gy*(r.At[1]-ay)
		bottom += gx*gx + gy*gy
	}
	if len(rays) < 2 || !(bottom > 1e-6) {
		return x, 0, false
	}
	z := top / bottom
	x = Vec{ax + z*sx, ay + z*sy, z}
	for _, r := range rays {
		miss += (math.Pow(r.At[0]+z*r.Slope[0]-x[0], 2) + math.Pow(r.At[1]+z*r.Slope[1]-x[1], 2)) / n
	}
	return x, math.Sqrt(miss), true
}
