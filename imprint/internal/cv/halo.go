package cv

import (
	"math"
	"slices"

	"sitspan/imprint/internal/normal"
)

// A phone sharpens: it adds to the picture a share of its difference to a
// blurred copy of itself. An edge of blur sigma becomes
//
//	(1 + halo) Phi(n/sigma) - halo Phi(n/wide),  wide^2 = sigma^2 + radius^2
//
// with a dark seam before it and a light one behind it. Both are alike, so
// that the edge stays where it was; a model without them follows the steep
// rise to no width at all and finds no edge.

const (
	// clipLight and clipDark are the grey levels from which a sample may have
	// been cut off: 255 and 0, with what a JPEG's rounding takes from a plateau.
	clipLight, clipDark = 250, 5
	// plainMisfit is the misfit of the edge without a halo, as a share of the
	// step, beyond which one is looked for. A halo must bring the sum of squares
	// down to haloGain of what it was, and the misfit below haloMisfit. On
	// rendered photos real halos leave 0.01 to 0.3 and 0.002 to 0.02; marks
	// without one, whose payload reaches into the profile, 0.6 and more.
	plainMisfit, haloGain, haloMisfit = 0.01, 0.3, 0.03
)

// edgeShape is how an edge rises from 0 to 1 on its way from black to white.
type edgeShape struct {
	sigma      float64 // px; the blur before sharpening
	halo, wide float64 // strength of the sharpening, blur of its copy in px; 0 for none
}

// level is the edge at n px from its middle, with its slope per px.
func (s edgeShape) level(n float64) (v, slope float64) {
	v, slope = normal.Of(n / s.sigma)
	slope /= s.sigma
	if s.halo > 0 {
		w, wideSlope := normal.Of(n / s.wide)
		v, slope = v+s.halo*(v-w), slope+s.halo*(slope-wideSlope/s.wide)
	}
	return v, slope
}

// reach is how far in px the edge must be sampled to either side.
func (s edgeShape) reach() float64 {
	if s.halo > 0 {
		return max(3.5*s.sigma, 2.5*s.wide)
	}
	return 3.5 * s.sigma
}

// steepness is the sigma of a plain edge that rises as steeply in its middle.
func (s edgeShape) steepness() float64 {
	if s.halo > 0 {
		return 1 / ((1+s.halo)/s.sigma - s.halo/s.wide)
	}
	return s.sigma
}

// cutOff reports whether a grey level says no more than that the light was at
// least, or at most, so much, which the model's own level fulfils.
func (s edgeShape) cutOff(seen, model float64) bool {
	return s.halo > 0 && (seen >= clipLight && model > seen || seen <= clipDark && model < seen)
}

// anyCutOff reports whether a profile reaches black or white: what stood out
// most of a halo may then be missing, so that a plain edge seems to fit.
func anyCutOff(profiles [][]float64) bool {
	for _, v := range profiles {
		if slices.Max(v) >= clipLight || slices.Min(v) <= clipDark {
			return true
		}
	}
	return false
}

// haloFit fits one shape to several profiles, each with its own levels and
// place: Levenberg and Marquardt's method.
type haloFit struct {
	profiles [][]float64
	n0, step float64 // px
	sides    []erfStep
	first    []erfStep // levels that the sides keep to, where nothing else tells them
	radius   float64
	edgeShape
	equations []float64 // normal, row by row, the right side in the last column; nil: not made yet
}

// Bounds of the shape's parameters: sigma and radius in px, the strength.
const (
	leastSigma, leastRadius = 0.3, 0.5
	mostHalo                = 6
)

// fitHalo fits an edge with a halo to the mean profiles of a mark's sides and
// returns them fitted, with the sum of squared misfits. start is the shape found
// before, if it had a halo.
func fitHalo(profiles [][]float64, half, step float64, start edgeShape) (
	sides []erfStep, squares float64, ok bool,
) {
	f := haloFit{profiles: profiles, n0: -half, step: step, edgeShape: start}
	if start.halo == 0 {
		f.edgeShape = edgeShape{sigma: 0.9, halo: 0.8, wide: 1.6}
	}
	f.radius = math.Sqrt(f.wide*f.wide - f.sigma*f.sigma)
	for _, v := range profiles {
		at, _ := steepest(v)
		first, last := v[0], v[len(v)-1]
		f.sides = append(f.sides, erfStep{first, last - first, -half + at*step, f.edgeShape})
	}
	f.first = slices.Clone(f.sides)
	squares = f.squares()
	lambda := 1e-2
	for range 40 {
		next, solved := f.moved(lambda)
		if !solved {
			return nil, 0, false
		}
		if q := next.squares(); q < squares {
			settled := squares-q < 1e-4*squares
			f, squares, lambda = next, q, max(1e-6, lambda/5)
			if settled {
				break
			}
		} else if lambda *= 5; lambda > 1e4 {
			break
		}
	}
	for k, m := range f.sides {
		if math.Abs(m.at) > half || m.rise <= 0 {
			return nil, 0, false
		}
		f.sides[k].edgeShape = f.edgeShape
	}
	return f.sides, squares, true
}

// squares is the sum of squared misfits.
func (f *haloFit) squares() (sum float64) {
	for k, v := range f.profiles {
		m := f.sides[k]
		black, rise := f.first[k].black-m.black, f.first[k].rise-m.rise
		sum += holdLevels * (black*black + rise*rise)
		for i, y := range v {
			level, _ := f.level(f.n0 + float64(i)*f.step - m.at)
			if model := m.black + m.rise*level; !f.cutOff(y, model) {
				sum += (y - model) * (y - model)
			}
		}
	}
	return sum
}

// moved is the fit after one damped step.
func (f *haloFit) moved(lambda float64) (next haloFit, ok bool) {
	n := 3 + 3*len(f.sides)
	if f.equations == nil {
		f.equations = make([]float64, n*(n+1))
		rows := rowsOf(f.equations, n)
		for k, v := range f.profiles {
			f.addProfile(rows, k, v)
		}
	}
	rows := rowsOf(slices.Clone(f.equations), n)
	for i := range rows {
		rows[i][i] += lambda*rows[i][i] + 1e-9
	}
	if !eliminate(rows) {
		return next, false
	}
	next = *f
	next.equations = nil
	next.sigma = min(max(f.sigma+rows[0][n], leastSigma, f.sigma/2), 2*f.sigma)
	next.halo = min(max(f.halo+rows[1][n], 0.02), mostHalo)
	next.radius = min(max(f.radius+rows[2][n], leastRadius, f.radius/2), 2*f.radius, -f.n0)
	next.wide = math.Hypot(next.sigma, next.radius)
	next.sides = slices.Clone(f.sides)
	for k := range next.sides {
		m := &next.sides[k]
		m.black, m.rise, m.at = m.black+rows[3+3*k][n], m.rise+rows[4+3*k][n], m.at+rows[5+3*k][n]
	}
	return next, true
}

// rowsOf are n equations in n unknowns.
func rowsOf(all []float64, n int) [][]float64 {
	rows := make([][]float64, n)
	for i := range rows {
		rows[i] = all[i*(n+1) : (i+1)*(n+1)]
	}
	return rows
}

// addProfile adds one profile to the normal equations.
func (f *haloFit) addProfile(rows [][]float64, k int, v []float64) {
	m := f.sides[k]
	index := [6]int{0, 1, 2, 3 + 3*k, 4 + 3*k, 5 + 3*k}
	last := len(rows)
	for a, away := range [2]float64{f.first[k].black - m.black, f.first[k].rise - m.rise} {
		rows[3+3*k+a][3+3*k+a] += holdLevels
		rows[3+3*k+a][last] += holdLevels * away
	}
	var sums [6][7]float64 // of the profile's own rows and columns, and the right side
	for a, row := range index {
		for b, column := range index {
			sums[a][b] = rows[row][column]
		}
		sums[a][6] = rows[row][last]
	}
	for i, y := range v {
		x := f.n0 + float64(i)*f.step - m.at
		narrow, narrowDensity := normal.Of(x / f.sigma)
		wide, wideDensity := normal.Of(x / f.wide)
		level := narrow + f.halo*(narrow-wide)
		slope := (1+f.halo)*narrowDensity/f.sigma - f.halo*wideDensity/f.wide
		model := m.black + m.rise*level
		if f.cutOff(y, model) {
			continue
		}
		spread := f.halo * wideDensity * x / (f.wide * f.wide * f.wide)
		j := [6]float64{
			m.rise * (-(1+f.halo)*narrowDensity*x/(f.sigma*f.sigma) + spread*f.sigma),
			m.rise * (narrow - wide),
			m.rise * spread * f.radius,
			1, level, -m.rise * slope,
		}
		for a := range j {
			for b := a; b < len(j); b++ {
				sums[a][b] += j[a] * j[b]
			}
			sums[a][6] += j[a] * (y - model)
		}
	}
	for a, row := range index {
		for b, column := range index {
			rows[row][column] = sums[min(a, b)][max(a, b)]
		}
		rows[row][last] = sums[a][6]
	}
}

// eliminate solves n linear equations in place, the right side in the last
// column, which holds the solution afterwards.
func eliminate(a [][]float64) bool {
	n := len(a)
	for c := range n {
		pivot := c
		for r := c + 1; r < n; r++ {
			if math.Abs(a[r][c]) > math.Abs(a[pivot][c]) {
				pivot = r
			}
		}
		a[c], a[pivot] = a[pivot], a[c]
		if math.Abs(a[c][c]) < 1e-12 {
			return false
		}
		for r := range n {
			if k := a[r][c] / a[c][c]; r != c && k != 0 {
				for j := c; j <= n; j++ {
					a[r][j] -= k * a[c][j]
				}
			}
		}
	}
	for i := range n {
		a[i][n] /= a[i][i]
	}
	return true
}
