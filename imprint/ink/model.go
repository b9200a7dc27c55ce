package ink

import "math"

// model predicts the lightness of the cells.
type model struct {
	cells  *cells
	family family
	front  float64 // +1 where the front is up, -1 where it is down
	prior  []expectation
	// 1 over each cell's standard deviation, the grain's correlation included; shared by all families
	weight []float64
	field  *field // of the bumps; nil where the parameters do not include them
	shine  *shine // of gleams; nil where the parameters do not include them

	shape            shape   // at the parameters taken last
	moved            []shape // with each of a body's parameters moved
	sill, full, bend float64
	by               []float64
}

// take works out what all cells share.
func (m *model) take(p []float64) {
	m.shape = m.family.shape(p, m.front)
	m.sill, m.full, m.bend = math.Exp(p[atSill]), math.Exp(p[atInk]), math.Exp(p[atBend])
}

// pressure is that of both sides and of the bumps at cell i.
func (m *model) pressure(p []float64, i int, by []float64) float64 {
	x, y := m.cells.x[i], m.cells.y[i]
	var z float64
	switch d, ok := m.shape.(*dented); {
	case ok && by != nil:
		z = d.slopes(x, y, by)
	default:
		z = m.shape.at(x, y)
		for j, s := range m.moved[:min(len(by), len(m.moved))] {
			by[j] = (s.at(x, y) - z) / bodyStep
		}
	}
	if m.field == nil {
		return z
	}
	if by != nil {
		by = by[parameters:]
	}
	return z + m.field.atCell(p[parameters:bumpy], i, by)
}

// paper is the unmarked paper's lightness at (x, y) over the first estimate.
func paper(p []float64, b *[6]float64) float64 {
	l := 0.0
	for k, v := range b {
		l += p[atPaper+k] * v
	}
	return math.Exp(l / tone)
}

// quadratic are the terms of the paper's brightness: lamps and lenses shade it smoothly.
func quadratic(x, y float64) [6]float64 {
	x /= 100
	y /= 70
	return [6]float64{1, x, y, x * x, y * y, x * y}
}

// count is the number of residuals: the cells', then the expectations'.
func (m *model) count() int { return len(m.cells.white) + len(m.prior) }

func (m *model) residuals(dst, p []float64) {
	m.take(p)
	c := m.cells
	for i, seen := range c.white {
		b := quadratic(c.x[i], c.y[i])
		v := m.density(p, m.pressure(p, i, nil)).v
		l := paper(p, &b) * (1 - v)
		if m.shine != nil {
			l = m.shine.shown(p, i, l).v
		}
		dst[i] = (l - seen) * m.weight[i]
	}
	for j, e := range m.prior {
		dst[len(c.white)+j] = e.residual(p)
	}
}

func (m *model) jacobian(col [][]float64, p []float64) {
	m.take(p)
	if m.family.body {
		m.moved = moved(p, m.front)
	}
	c := m.cells
	for i := range c.white {
		clear(m.by)
		d := m.density(p, m.pressure(p, i, m.by))
		b := quadratic(c.x[i], c.y[i])
		light := paper(p, &b) * m.weight[i]
		var lit shown
		if m.shine != nil {
			lit = m.shine.shown(p, i, paper(p, &b)*(1-d.v))
			light *= lit.byL
		}
		m.by[atSill] = -m.sill
		for j := range col {
			col[j][i] = -light * d.slope * m.by[j]
		}
		col[atInk][i], col[atGain][i], col[atBend][i] = -light*d.byInk, -light*d.byGain, -light*d.byBend
		for k, v := range b {
			col[atPaper+k][i] = light * (1 - d.v) * v / tone
		}
		if m.shine != nil {
			col[atTop][i] = lit.byTop * m.weight[i]
			for k, h := range m.shine.heights(i) {
				col[atGleam+k][i] = lit.byGleam * h * m.weight[i]
			}
		}
	}
	for j := range col {
		clear(col[j][len(c.white):])
	}
	for j, e := range m.prior {
		e.derive(col, len(c.white)+j)
	}
}
