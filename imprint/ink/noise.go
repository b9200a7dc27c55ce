package ink

import (
	"math"

	"sitspan/imprint/internal/leastsquares"
)

const (
	levels     = 9     // of density, at which the grain's strength is judged
	enough     = 25    // cells that a level needs for that
	leastGrain = 0.004 // of lightness: eight bits, paper, the scanner's own noise
	farOff     = 2.0   // standard deviations beyond which a cell counts less, as Huber's loss has it
	firstGrain = 0.03  // of lightness, before anything is known
	firstReach = 2.5   // of the grain's correlation, likewise
	inkedFrom  = 0.1   // level of density from which a cell counts as inked
	// part of what a window can say that the fit may use up before nothing can be said of the grain
	mostSpent = 0.75
)

// seen are the residuals of a fit in lightness, with the predicted density of each cell over the saturated
// one, 0 to 1.
func (m *model) seen(f leastsquares.Fit) (residual, level []float64) {
	c := m.cells
	m.take(f.Parameters)
	top := m.full * math.Tanh(math.Exp(f.Parameters[atGain]))
	for i := range c.white {
		d := m.density(f.Parameters, m.pressure(f.Parameters, i, nil))
		level = append(level, math.Min(1, math.Max(0, d.v/top)))
		if residual = append(residual, 0); !c.dark[i] {
			residual[i] = f.Residuals[i] / m.weight[i]
		}
	}
	return residual, level
}

// reweigh gives each cell the weight that its level of density has earned: grain is weak on bare paper,
// strong halfway, and weaker again where the ink saturates, and the residuals themselves say how strong.
// reach, which it also returns, is the factor on the standard deviation by which neighbours that err alike
// count for less than they are.
func (m *model) reweigh(f leastsquares.Fit) (reach float64) {
	residual, level := m.seen(f)
	sd := m.cells.grain(residual, level)
	unit := make([]float64, len(residual))
	for i, r := range residual {
		at := level[i] * (levels - 1)
		b := min(levels-2, int(at))
		s := sd[b] + (sd[b+1]-sd[b])*(at-float64(b))
		m.weight[i] = 1 / s
		if far := math.Abs(r) / (farOff * s); far > 1 {
			m.weight[i] /= math.Sqrt(far)
		}
		if m.cells.dark[i] {
			m.weight[i] = 0
		}
		unit[i] = r * m.weight[i]
	}
	reach = m.cells.correlation(unit, level)
	reach *= math.Sqrt(spent(m.cells.inked(level), m.settledByData(f)))
	for i := range m.weight {
		m.weight[i] /= reach
	}
	return reach
}

// grain is the residuals' robust standard deviation at each level of density.
func (c *cells) grain(residual, level []float64) (sd [levels]float64) {
	var at [levels][]float64
	for i, l := range level {
		if c.dark[i] {
			continue
		}
		b := int(l*(levels-1) + 0.5)
		at[b] = append(at[b], residual[i])
	}
	last := leastGrain
	for b := range sd {
		if len(at[b]) >= enough {
			last = math.Max(leastGrain, leastsquares.RobustSD(at[b]))
		}
		sd[b] = last
	}
	return sd
}

// correlation is the square root of the number of cells that err as one: the sum of the residuals'
// autocorrelation over the plane, taken as the product of the sums along x and along y, each up to 9 mm,
// where the mark is inked. A misfit that is wider than the grain counts the same way, and so it should.
func (c *cells) correlation(unit, level []float64) float64 {
	reach := max(1, int(9/c.side+0.5))
	sums := [2]float64{1, 1}
	for axis, stride := range []int{1, c.w} {
		for k := 1; k <= reach; k++ {
			var both, each float64
			for j := range c.h {
				for i := range c.w {
					a := j*c.w + i
					b := a + k*stride
					if c.dark[a] || (axis == 0 && i+k >= c.w) || b >= len(unit) || c.dark[b] || level[a] < inkedFrom ||
						level[b] < inkedFrom {
						continue
					}
					both += unit[a] * unit[b]
					each += (unit[a]*unit[a] + unit[b]*unit[b]) / 2
				}
			}
			if each > 0 {
				sums[axis] += 2 * math.Max(0, both/each)
			}
		}
	}
	return math.Sqrt(sums[0] * sums[1])
}

// inked counts the cells of a mark.
func (c *cells) inked(level []float64) (n float64) {
	for i, l := range level {
		if !c.dark[i] && l >= inkedFrom {
			n++
		}
	}
	return n
}

// spent is the factor by which the residuals of n cells understate the grain's variance where the fit has
// used up k of them: n / (n - k). That neighbours err alike counts once, by the reach: counted twice, the
// noise of drawn scans of bodies came out 1.2 to 3 times as large as it was drawn.
func spent(n, k float64) float64 {
	return 1 / (1 - math.Min(mostSpent, k/math.Max(n, 1)))
}

// settledByData is the number of parameters that the cells and not the expectations have settled: the trace
// of the hat matrix over the cells' rows, which is the number of parameters less the trace over the
// expectations' rows.
func (m *model) settledByData(f leastsquares.Fit) float64 {
	k := float64(len(f.Parameters))
	for _, e := range m.prior {
		v := f.Unscaled.At(e.i, e.i)
		if e.less >= 0 {
			v += f.Unscaled.At(e.less, e.less) - 2*f.Unscaled.At(e.i, e.less)
		}
		k -= v / (e.sd * e.sd)
	}
	return math.Max(0, k)
}
