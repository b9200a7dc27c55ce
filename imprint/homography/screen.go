package homography

import (
	"errors"
	"fmt"
	"math"

	"gonum.org/v1/gonum/mat"
	"gonum.org/v1/gonum/stat/distuv"
)

// ErrMarksDisagree says that no plane explains enough of the marks.
var ErrMarksDisagree = errors.New("the marks do not agree on a plane")

// rejectLevel is the probability, shared out over all marks, at which a mark
// that belongs to the plane is dropped by mistake (Baarda's data snooping with
// Bonferroni's correction).
const rejectLevel = 0.001

// outlierShare bounds the marks that screening may drop after the robust
// start, as a fraction of all: when more than a quarter misfit, no mark is at
// fault; the frame is bent or the lens strange.
const outlierShare = 0.25

// judgement is what the other marks say about one mark.
type judgement struct {
	errors []float64 // seen - predicted per coordinate, whitened by the noise
	rms    float64   // rms distance of its points from their prediction, mm
	p      float64   // probability of as large an error by chance; 1 if unknown
	known  bool      // whether the others determine the prediction at all
}

// screen refines on the marks, drops those that the others contradict one at
// a time, and takes back marks that the robust start was too quick to refuse.
func (p *problem) screen(start parameters, all, agreeing []mark, floor float64) (solution, []mark, error) {
	kept := agreeing
	found, err := p.refine(start, kept, 1)
	if err != nil {
		return solution{}, nil, err
	}
	for range int(outlierShare * float64(len(all))) {
		worst := p.worst(&found, kept, floor)
		if worst < 0 {
			break
		}
		kept = without(kept, worst)
		if found, err = p.refine(found.at, kept, 1); err != nil {
			return solution{}, nil, err
		}
	}
	returned := p.readmit(&found, all, kept, floor)
	if len(returned) == len(kept) {
		return found, kept, nil
	}
	found, err = p.refine(found.at, returned, 1)
	return found, returned, err
}

// worst returns the position of the mark that is least probable, -1 if none
// is improbable and wrong by more than floor mm.
func (p *problem) worst(s *solution, kept []mark, floor float64) int {
	worst, least := -1, rejectLevel/float64(len(kept))
	for n, k := range kept {
		j := p.withhold(s, k, kept)
		if j.known && j.rms > floor && j.p < least {
			worst, least = n, j.p
		}
	}
	if worst >= 0 && !enough(without(kept, worst)) {
		return -1
	}
	return worst
}

// readmit returns kept and those of the other marks that fit after all, in
// the order of all.
func (p *problem) readmit(s *solution, all, kept []mark, floor float64) []mark {
	in := map[int]bool{}
	for _, k := range kept {
		in[k.id] = true
	}
	var returned []mark
	for _, k := range all {
		j := p.predict(s, k)
		if in[k.id] || j.rms <= floor || j.p >= rejectLevel/float64(len(all)) {
			returned = append(returned, k)
		}
	}
	return returned
}

// withhold judges a mark that took part in the fit as if it had not. For a
// linear least-squares fit, what the other marks would have left is exactly
// (I - H)^-1 r, with r the mark's whitened residuals and H its block of the
// hat matrix (Cook and Weisberg, Residuals and Influence in Regression, 1982,
// section 3.6; section from memory: it is the Woodbury identity); the fit is linear to well below the
// residuals.
func (p *problem) withhold(s *solution, k mark, kept []mark) judgement {
	residuals, hat := p.block(s, k)
	n := residuals.Len()
	rest := mat.NewSymDense(n, nil)
	for i := range n {
		for j := i; j < n; j++ {
			rest.SetSym(i, j, -hat.At(i, j))
		}
		rest.SetSym(i, i, 1-hat.At(i, i))
	}
	var chol mat.Cholesky
	errors := mat.NewVecDense(n, nil)
	// A condition beyond 1e8 leaves the prediction to the priors alone.
	if !chol.Factorize(rest) || chol.Cond() > 1e8 || chol.SolveVecTo(errors, residuals) != nil {
		return judgement{rms: math.Inf(1), p: 1}
	}
	t := mat.Dot(residuals, errors)
	dof := s.dof - float64(n)
	spread := (p.sumOfSquares(s, kept) - t) / dof
	return p.judge(s, k, errors.RawVector().Data, t, spread, dof)
}

// predict judges a mark that took no part in the fit.
func (p *problem) predict(s *solution, k mark) judgement {
	residuals, hat := p.block(s, k)
	n := residuals.Len()
	for i := range n {
		hat.SetSym(i, i, 1+hat.At(i, i))
	}
	var chol mat.Cholesky
	scaled := mat.NewVecDense(n, nil)
	if !chol.Factorize(hat) || chol.SolveVecTo(scaled, residuals) != nil {
		return judgement{rms: math.Inf(1), p: 1}
	}
	return p.judge(s, k, residuals.RawVector().Data, mat.Dot(residuals, scaled), 1, s.dof)
}

// judge compares the statistic t of a mark with the spread of the others: F.
func (p *problem) judge(s *solution, k mark, errors []float64, t, spread, dof float64) judgement {
	j := judgement{errors: errors, rms: p.rms(s, k, errors), p: 1, known: true}
	if dof < 1 {
		return j
	}
	// Perfect points leave no spread; the noise has a floor, so has this.
	spread = math.Max(spread, math.Pow(leastNoise/(s.noise*p.u[k.members[0]]*p.norm.radius), 2))
	n := float64(len(errors))
	j.p = distuv.F{D1: n, D2: dof}.Survival(t / n / spread)
	return j
}

// block returns a mark's residuals, whitened by the noise, and its block of
// the hat matrix.
func (p *problem) block(s *solution, k mark) (*mat.VecDense, *mat.SymDense) {
	n := 2 * len(k.members)
	residuals, hat := mat.NewVecDense(n, nil), mat.NewSymDense(n, nil)
	gradients := make([][paramCount]float64, 0, n)
	for m, i := range k.members {
		r, sens := p.rows(&s.at, i)
		for axis := range 2 {
			residuals.SetVec(2*m+axis, r[axis]/s.noise)
			g := sens.params[axis]
			for j := range g {
				g[j] /= p.u[i] * s.noise
			}
			gradients = append(gradients, g)
		}
	}
	for i := range n {
		for j := i; j < n; j++ {
			hat.SetSym(i, j, bilinear(s.covariance, gradients[i], gradients[j]))
		}
	}
	return residuals, hat
}

// rms turns whitened picture errors of a mark's points into mm on the plane.
func (p *problem) rms(s *solution, k mark, errors []float64) float64 {
	sum := 0.0
	for m, i := range k.members {
		x, y := p.toPlaneError(s, i, errors[2*m], errors[2*m+1])
		sum += x*x + y*y
	}
	return math.Sqrt(sum / float64(len(k.members)))
}

// toPlaneError turns the whitened picture error of point i into mm.
func (p *problem) toPlaneError(s *solution, i int, ex, ey float64) (x, y float64) {
	_, sens := p.rows(&s.at, i)
	inverse := sens.plane.inverse()
	unit := p.u[i] * s.noise * p.norm.scale
	return unit * (inverse[0][0]*ex + inverse[0][1]*ey), unit * (inverse[1][0]*ex + inverse[1][1]*ey)
}

// sumOfSquares is that of the residuals, whitened by the noise.
func (p *problem) sumOfSquares(s *solution, marks []mark) float64 {
	sum := 0.0
	for _, i := range members(marks) {
		r, _ := p.rows(&s.at, i)
		sum += (r[0]*r[0] + r[1]*r[1]) / (s.noise * s.noise)
	}
	return sum
}

// without returns the marks but the one at position n.
func without(marks []mark, n int) []mark {
	return append(append([]mark(nil), marks[:n]...), marks[n+1:]...)
}

// leastPoints is what a fit needs: four make a homography, one checks it.
const leastPoints = 5

func enough(marks []mark) bool { return len(marks) >= 2 && len(members(marks)) >= leastPoints }

// requireEnough says in one line why too few marks are left.
func requireEnough(kept, all []mark) error {
	if enough(kept) {
		return nil
	}
	return fmt.Errorf("%w: %d of %d marks agree, with %d points; need 2 marks and %d points at least",
		ErrMarksDisagree, len(kept), len(all), len(members(kept)), leastPoints)
}
