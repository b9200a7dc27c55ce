package bundle

import (
	"fmt"
	"math"

	"gonum.org/v1/gonum/mat"
)

// state is where the search stands.
type state struct {
	poses         []pose
	lenses        []lens
	stretch, skew float64
	bow           []float64 // mm, of each control point below the frame's mean plane
	ties          []Vec
}

// layout says where the unknowns that all points share stand: poses, cameras, the frame's shape, its heights.
type layout struct{ views, controls int }

func (l layout) pose(view int) int   { return poseCount * view }
func (l layout) camera(view int) int { return poseCount*l.views + cameraCount*view }
func (l layout) frame() int          { return l.camera(l.views) }
func (l layout) bow(control int) int { return l.frame() + frameCount + control }
func (l layout) count() int          { return l.bow(l.controls) }

// problem is a scene being adjusted.
type problem struct {
	scene  *Scene
	layout layout
	// Inverses of what is known beforehand of the frame's heights (1/mm^2) and of the focal lengths' logarithms.
	bowInv, focalInv *mat.SymDense
	at               state
	// What the residuals say of the observations: factors on the given standard uncertainties.
	controlFactor, tieFactor float64
	controlWeight, tieWeight []float64 // of each sight, 1 down to 0, from the robust loss
	damping                  float64   // of the next step
}

// Adjusted is the solution.
type Adjusted struct {
	Ties  []Vec        // mm
	Own   []Covariance // of each tie point, mm^2, were all else known
	Share []*mat.Dense // 3 x n: what a change of the shared unknowns moves each tie point by
	// Shared is the covariance of the n unknowns that all points share: poses, cameras, the frame's shape and
	// heights.
	Shared *mat.SymDense

	Poses   []Pose
	Lenses  []Lens
	Bow     []float64 // mm, of each control point: how far it lies below the frame's mean plane
	BowU    []float64 // mm
	Stretch float64

	// Residuals of the sights, px, in the scene's order, and the weight that each had in the end (0: cut).
	ControlResiduals, TieResiduals []Pixel
	ControlWeights, TieWeights     []float64
	// ControlFactor and TieFactor are what the stated uncertainties of the sights had to be multiplied by.
	ControlFactor, TieFactor float64

	layout layout
}

// Covariance of a point, mm^2.
type Covariance [3][3]float64

// Pose is where a photo was taken from, in the end.
type Pose struct {
	Rotation [9]float64
	Position Vec
}

// Lens is a camera in the end.
type Lens struct {
	Focal, FocalU float64 // px
	K1, K2        float64
	Principal     [2]float64 // half diagonals from the picture's centre
}

// Adjust solves the scene. Observations that the others contradict lose their weight (Tukey's biweight at
// 4.685 standard deviations: 95 % efficiency on normal errors; Holland and Welsch, Comm. Statistics A6 (1977)
// 813, from memory); the observations' own factor is estimated from the residuals.
func Adjust(s *Scene) (*Adjusted, error) {
	p, err := newProblem(s)
	if err != nil {
		return nil, err
	}
	// A plain Huber start lets no far outlier draw the poses; then the scale of the residuals is estimated in
	// turns.
	for round := range 6 {
		if err := p.search(); err != nil {
			return nil, err
		}
		p.reweigh(round >= 2)
	}
	if err := p.search(); err != nil {
		return nil, err
	}
	return p.report()
}

func newProblem(s *Scene) (*problem, error) {
	if err := s.check(); err != nil {
		return nil, err
	}
	p := &problem{
		scene: s, layout: layout{len(s.Views), len(s.Controls)}, controlFactor: 1, tieFactor: 1, damping: 1e-4,
	}
	for _, v := range s.Views {
		p.at.poses = append(p.at.poses, pose{v.Rotation, v.Position})
		p.at.lenses = append(p.at.lenses, lens{focal: v.Camera.Focal})
	}
	p.at.bow = make([]float64, len(s.Controls))
	p.at.ties = append([]Vec(nil), s.Ties...)
	p.controlWeight, p.tieWeight = ones(len(s.ControlSeen)), ones(len(s.TieSeen))
	var err error
	if p.bowInv, err = bowPrior(s); err != nil {
		return nil, err
	}
	p.focalInv, err = focalPrior(s)
	return p, err
}

// bowPrior is the inverse of the heights' covariance, 1/mm^2.
func bowPrior(s *Scene) (*mat.SymDense, error) {
	n := len(s.Controls)
	c := mat.NewSymDense(n, nil)
	for i := range n {
		for j := i; j < n; j++ {
			d := math.Hypot(s.Controls[i].X-s.Controls[j].X, s.Controls[i].Y-s.Controls[j].Y) / s.Frame.BowLength
			c.SetSym(i, j, s.Frame.BowU*s.Frame.BowU*math.Exp(-d*d/2))
		}
		c.SetSym(i, i, c.At(i, i)*(1+1e-6)+1e-4) // a hundredth of a millimetre of its own: paper is rough
	}
	return inverseOf(c)
}

// focalPrior is the inverse of the covariance of the logarithms of the focal lengths.
func focalPrior(s *Scene) (*mat.SymDense, error) {
	n := len(s.Views)
	c := mat.NewSymDense(n, nil)
	for i, v := range s.Views {
		for j := i + 1; j < n; j++ {
			if w := s.Views[j].Camera; v.Camera.Lens != "" && v.Camera.Lens == w.Lens {
				c.SetSym(i, j, v.Camera.FocalU*w.FocalU)
			}
		}
		c.SetSym(i, i, v.Camera.FocalU*v.Camera.FocalU+v.Camera.FocalOwnU*v.Camera.FocalOwnU)
	}
	return inverseOf(c)
}

func inverseOf(c *mat.SymDense) (*mat.SymDense, error) {
	var chol mat.Cholesky
	if !chol.Factorize(c) {
		return nil, fmt.Errorf("bundle: what is known beforehand contradicts itself: %w", ErrTooLittle)
	}
	out := &mat.SymDense{}
	return out, chol.InverseTo(out)
}

func ones(n int) []float64 {
	v := make([]float64, n)
	for i := range v {
		v[i] = 1
	}
	return v
}

// place is where a control point lies, with its derivatives by stretch and skew.
func (s *state) place(c Control, bow float64) (x, byStretch, bySkew Vec) {
	x = Vec{c.X*(1+s.stretch/2) + c.Y*s.skew/2, c.Y*(1-s.stretch/2) + c.X*s.skew/2, bow}
	return x, Vec{c.X / 2, -c.Y / 2}, Vec{c.Y / 2, c.X / 2}
}

// residual of a sight, px.
func (p *problem) residual(s *state, o Seen, x Vec, d *partials) (Pixel, bool) {
	v := p.scene.Views[o.View]
	at, ok := v.project(s.poses[o.View], s.lenses[o.View], x, d)
	return Pixel{o.At[0] - at[0], o.At[1] - at[1]}, ok
}

// loss is the weighted sum of squares, the priors among them; infinite where a point falls behind a camera.
func (p *problem) loss(s *state) (sum float64) {
	add := func(list []Seen, weight []float64, factor float64, at func(int) Vec) {
		for k, o := range list {
			r, ok := p.residual(s, o, at(o.Point), nil)
			if !ok {
				sum = math.Inf(1)
				return
			}
			u := o.U * factor
			sum += weight[k] * (r[0]*r[0] + r[1]*r[1]) / (u * u)
		}
	}
	add(p.scene.ControlSeen, p.controlWeight, p.controlFactor, func(i int) Vec {
		x, _, _ := s.place(p.scene.Controls[i], s.bow[i])
		return x
	})
	add(p.scene.TieSeen, p.tieWeight, p.tieFactor, func(i int) Vec { return s.ties[i] })
	for v, view := range p.scene.Views {
		for _, t := range view.Camera.terms(s.lenses[v]) {
			sum += t.value * t.value / (t.u * t.u)
		}
	}
	f0 := mat.NewVecDense(len(s.lenses), p.focals(s))
	sum += mat.Inner(f0, p.focalInv, f0)
	f := p.scene.Frame
	sum += s.stretch*s.stretch/(f.StretchU*f.StretchU) + s.skew*s.skew/(f.SkewU*f.SkewU)
	b := mat.NewVecDense(len(s.bow), s.bow)
	return sum + mat.Inner(b, p.bowInv, b)
}

type term struct{ value, u float64 }

// terms are a camera's unknowns but the focal length against what is known beforehand.
func (c Camera) terms(l lens) [cameraCount - 1]term {
	return [cameraCount - 1]term{{l.k1, c.K1U}, {l.k2, c.K2U}, {l.cx, c.PrincipalU}, {l.cy, c.PrincipalU}}
}

// focals are the logarithms of the focal lengths over those stated.
func (p *problem) focals(s *state) []float64 {
	out := make([]float64, len(s.lenses))
	for v, l := range s.lenses {
		out[v] = math.Log(l.focal / p.scene.Views[v].Camera.Focal)
	}
	return out
}

// search goes to the minimum by Levenberg and Marquardt's method, the points eliminated (Schur complement).
func (p *problem) search() error {
	loss := p.loss(&p.at)
	n := p.normal()
	for range 40 {
		next, l := p.next(n, loss)
		if !(l < loss) {
			if p.damping *= 10; p.damping > 1e8 {
				return nil // rounding allows no smaller step
			}
			continue
		}
		// a thousandth of the parameters' own uncertainty, at hundreds of degrees of freedom
		done := loss-l < 1e-5*loss
		p.at, loss, p.damping = next, l, math.Max(p.damping/10, 1e-12)
		if done {
			return nil
		}
		n = p.normal()
	}
	return nil
}

// mostMore is how many more steps lead back to a valley's floor.
const mostMore = 6

// next is the state after a step, and its loss. A camera's focal length, its distance and its turn hardly
// differ in what a flat frame shows: the loss has a narrow valley that bends. A long step along it ends above
// the floor, and damping it would take hundreds of short ones. So before it counts as too long, more steps
// follow from where it ends, as long as each leads down.
func (p *problem) next(n *normal, loss float64) (next state, l float64) {
	next, l = p.after(n)
	from := p.at
	defer func() { p.at = from }()
	for more := 0; more < mostMore && !(l < loss) && !math.IsInf(l, 1); more++ {
		p.at = next
		again, lower := p.after(p.normal())
		if !(lower < l) {
			break
		}
		next, l = again, lower
	}
	return next, l
}

// after is the state after one step of the present damping, and its loss: infinite where there is none.
func (p *problem) after(n *normal) (next state, l float64) {
	next, ok := p.step(n, p.damping)
	if !ok {
		return next, math.Inf(1)
	}
	return next, p.loss(&next)
}
