package homography

import (
	"math"

	"gonum.org/v1/gonum/floats"
	"gonum.org/v1/gonum/mat"
	"gonum.org/v1/gonum/stat/distuv"
)

// markMeans takes two parts of the residuals: the marks' means, which carry
// what the corners of a mark share (a print or frame that is not flat, a lens
// beyond the model), and what is left of each mark after an affine map of its
// own, which is the corners' noise alone: a slope or shift of the mark has no
// part in it.
type markMeans struct {
	between, betweenDoF float64               // sum of squares of the means, whitened
	within, withinDoF   float64               // sum of squares of what is left
	values              []float64             // the means, two per mark
	gradients           [][paramCount]float64 // their derivatives
}

// clustering computes the split. A mean over n points is taken times sqrt(n),
// so that noise gives it unit variance; its degrees of freedom are the count of
// rows less their part of the hat matrix' trace. That part is negligible for
// what is left within the marks: no parameter shapes a mark in its own way.
func (p *problem) clustering(s *solution, kept []mark) markMeans {
	var m markMeans
	for _, k := range kept {
		root := math.Sqrt(float64(len(k.members)))
		var mean [2]float64
		var gradient [2][paramCount]float64
		for _, i := range k.members {
			r, sens := p.rows(&s.at, i)
			for axis := range 2 {
				mean[axis] += r[axis] / s.noise / root
				for j := range paramCount {
					gradient[axis][j] += sens.params[axis][j] / (p.u[i] * s.noise) / root
				}
			}
		}
		for axis := range 2 {
			m.between += mean[axis] * mean[axis]
			m.betweenDoF += 1 - quadratic(s.covariance, gradient[axis])
			m.values = append(m.values, mean[axis])
			m.gradients = append(m.gradients, gradient[axis])
		}
	}
	for _, k := range kept {
		if n := len(k.members); n > 3 {
			m.within += p.affineRest(s, k)
			m.withinDoF += float64(2 * (n - 3))
		}
	}
	return m
}

// affineRest is the sum of squares of a mark's whitened residuals less their
// projection on 1, x and y, by Gram and Schmidt's method.
func (p *problem) affineRest(s *solution, k mark) float64 {
	n := len(k.members)
	vectors := make([][]float64, 5) // 1, x, y, then the residuals in x and y
	for j := range vectors {
		vectors[j] = make([]float64, n)
	}
	for m, i := range k.members {
		r, _ := p.rows(&s.at, i)
		for j, value := range []float64{1, p.pairs[i].px, p.pairs[i].py, r[0] / s.noise, r[1] / s.noise} {
			vectors[j][m] = value
		}
	}
	for j := range 3 {
		norm := floats.Norm(vectors[j], 2)
		if norm < 1e-9 { // points on one line span one direction less
			continue
		}
		floats.Scale(1/norm, vectors[j])
		for _, later := range vectors[j+1:] {
			floats.AddScaled(later, -floats.Dot(later, vectors[j]), vectors[j])
		}
	}
	return floats.Dot(vectors[3], vectors[3]) + floats.Dot(vectors[4], vectors[4])
}

// factor returns by how much the noise must be raised for the marks' means:
// 1 unless they spread more than the corners within the marks explain, at a
// level of 5 %.
func (m markMeans) factor() float64 {
	if m.betweenDoF < 1 || m.withinDoF < dofForNoise {
		return 1
	}
	between, within := m.between/m.betweenDoF, m.within/m.withinDoF
	if (distuv.F{D1: m.betweenDoF, D2: m.withinDoF}).Survival(between/within) > 0.05 {
		return 1
	}
	return math.Max(1, math.Sqrt(between))
}

// Flatness tells how far the marks lie off one plane.
type Flatness struct {
	// U is the standard uncertainty in mm of the height of a point of the
	// frame above the fitted plane, estimated from the marks' residuals less
	// what the corners' noise explains; 0 where noise explains them all.
	U float64
	// Limit is the U in mm that noise alone would still hide (one-sided 95 %):
	// a smaller buckle cannot be told from none.
	Limit float64
	// Known is false where the marks are too few to tell.
	Known bool
}

// Flatness estimates the buckle of the frame from the residuals.
//
// A mark that lies z mm above the plane is seen displaced on the plane by
// (X - C) z/H, away from the point under the camera C, H being the camera's
// height: marks under the camera show nothing, marks at the frame's corners
// half of z from 300 mm. With D those displacements in the (whitened) picture
// for 1 mm, and M = I - H the matrix that takes errors to residuals, the
// marks' mean residuals have the expected sum of squares
//
//	E = dof s^2 + u_z^2 trace((M D)' (M D))
//
// for heights of variance u_z^2, s^2 being the variance within the marks. U
// solves this for u_z. A tilt or a common height is no buckle, and M removes
// it; M and the lens terms also take part of a frame arched along its length,
// of which U shows about half.
func (f *PlaneFit) Flatness(camera *Camera) Flatness {
	m := f.problem.clustering(&f.found, f.kept)
	if m.betweenDoF < 1 || m.withinDoF < dofForNoise {
		return Flatness{}
	}
	noise := m.within / m.withinDoF
	gain := f.heightGain(camera, m)
	if !(gain > 0) {
		return Flatness{}
	}
	most := distuv.ChiSquared{K: m.betweenDoF}.Quantile(0.95)
	return Flatness{
		U:     math.Sqrt(math.Max(0, m.between-noise*m.betweenDoF) / gain),
		Limit: math.Sqrt(noise * (most - m.betweenDoF) / gain),
		Known: true,
	}
}

// heightGain is trace((M D)' (M D)) for D in marks' means per mm of height.
func (f *PlaneFit) heightGain(camera *Camera, m markMeans) float64 {
	count := len(m.values)
	project := mat.NewSymDense(count, nil) // M
	for i := range count {
		for j := i; j < count; j++ {
			project.SetSym(i, j, -bilinear(f.found.covariance, m.gradients[i], m.gradients[j]))
		}
		project.SetSym(i, i, project.At(i, i)+1)
	}
	shifts := mat.NewDense(count, len(f.kept), nil) // D
	for n, k := range f.kept {
		shift := f.heightShift(camera, k)
		shifts.Set(2*n, n, shift[0])
		shifts.Set(2*n+1, n, shift[1])
	}
	var left mat.Dense
	left.Mul(project, shifts)
	norm := mat.Norm(&left, 2) // Frobenius
	return norm * norm
}

// heightShift is the whitened displacement of a mark's mean per mm of height.
func (f *PlaneFit) heightShift(camera *Camera, k mark) [2]float64 {
	p, s := f.problem, &f.found
	root := math.Sqrt(float64(len(k.members)))
	var shift [2]float64
	for _, i := range k.members {
		at := p.norm.toPlane(p.pairs[i].px, p.pairs[i].py)
		dx := (at.X - camera.Position.X) / camera.Height / p.norm.scale
		dy := (at.Y - camera.Position.Y) / camera.Height / p.norm.scale
		_, sens := p.rows(&s.at, i)
		for axis := range 2 {
			shift[axis] += (sens.plane[axis][0]*dx + sens.plane[axis][1]*dy) / (p.u[i] * s.noise) / root
		}
	}
	return shift
}
