package relief

import "math"

// terms are equation (2)'s columns beside the background, at a cell: z_x, z_y, the slopes' squares and
// product, z, and the light of a lamp at the lens. With equal coefficients of the squares and none of the
// product they are (2) as it stands; apart they also hold what the second order of ln(1 + p z_x + q z_y), a
// lamp's own, adds to it.
const terms = 7

// deep is the depth in mm per unit of the last term, so that all coefficients are of the order of 1.
const deep = 10.0

func termsOf(h slope, l lens) [terms]float64 {
	return [terms]float64{-h.x, -h.y, h.x * h.x, h.x * h.y, h.y * h.y, -h.d / deep, l.light(h)}
}

// termsBy is the change of sum c_k term_k as the surface changes by dh.
func termsBy(c []float64, h, dh slope, l lens) float64 {
	return -c[0]*dh.x - c[1]*dh.y + 2*c[2]*h.x*dh.x + c[3]*(h.x*dh.y+h.y*dh.x) +
		2*c[4]*h.y*dh.y - c[5]*dh.d/deep + c[6]*l.light(dh)
}

// lens is where the lens is seen from a place of the pad: how far to the side per mm of height, and 1 over
// its height in mm. The zero lens is unknown, and lights nothing.
type lens struct{ x, y, perMM float64 }

func (v View) lensFrom(p Point) lens {
	if v.Height <= 0 {
		return lens{}
	}
	return lens{(v.X - p.X) / v.Height, (v.Y - p.Y) / v.Height, 1 / v.Height}
}

// light is what a relief changes in ln of the light of a lamp at the lens, as a phone's flash all but is, to
// first order: what faces the lens is lit the more, and what lies deeper the less, by the square of the
// distance. A flash is so near that its direction turns by 20 degrees and more over the window: no p and q
// hold for both dents.
func (l lens) light(h slope) float64 { return h.x*l.x + h.y*l.y - 2*h.d*l.perMM }

// Standard deviations of the coefficients before the fit: terms first, then the background's six. Wide, but
// they keep a photo that says nothing of one from giving it absurd values. In ln of light; slopes are pure
// numbers.
const (
	termPrior = 1.0 // a wall of 45 degrees is seldom e times brighter or darker than the flat
	lensPrior = 1.0 // a lamp at the lens gives none of the light, or all of it
	// of light lost per 10 mm of depth: what the walls take away they mostly give back, and more
	// freedom measured worse
	deepPrior      = 0.03
	levelPrior     = 10.0 // brightness itself
	litPrior       = 0.1  // the light's course over the window, where the frame's white tells it
	unlitPrior     = 1.0  // where it does not
	backgroundSize = 6
)

func (k *look) coefficientPriors() (sd []float64) {
	for range terms - 2 {
		sd = append(sd, termPrior)
	}
	sd = append(sd, deepPrior, lensPrior, levelPrior)
	course := unlitPrior
	if k.lit {
		course = litPrior
	}
	for range backgroundSize - 1 {
		sd = append(sd, course)
	}
	return sd
}

// projection is the linear part of a fit solved: variable projection (Golub and Pereyra, SIAM J. Numer. Anal.
// 10 (1973) 413-432). Rows are the data, then one for each column: its prior.
type projection struct {
	columns      [][]float64 // orthonormal, in data and prior rows; nil where a column says nothing new
	coefficients []float64
	residuals    []float64
}

// project finds the coefficients of the columns (each with the data's rows, weighted) that leave the least of
// data and of coefficient/sd, by Gram and Schmidt's process run twice. It keeps the columns' memory.
func project(data []float64, columns [][]float64, sd []float64) projection {
	m := len(columns)
	p := projection{columns: columns, coefficients: make([]float64, m),
		residuals: append(append([]float64(nil), data...), make([]float64, m)...)}
	triangle, along := make([][]float64, m), make([]float64, m)
	for k := range columns {
		v := append(columns[k], make([]float64, m)...)
		v[len(data)+k] = 1 / sd[k]
		triangle[k] = p.orthogonal(v, k)
		n := math.Sqrt(dot(v, v))
		triangle[k][k] = n
		scale(v, 1/n)
		p.columns[k] = v
		along[k] = dot(v, p.residuals)
		subtract(p.residuals, v, along[k])
	}
	for k := m - 1; k >= 0; k-- { // back substitution
		c := along[k]
		for j := k + 1; j < m; j++ {
			c -= triangle[j][k] * p.coefficients[j]
		}
		p.coefficients[k] = c / triangle[k][k]
	}
	return p
}

// orthogonal takes off v what lies along the first n columns and returns how much that was.
func (p *projection) orthogonal(v []float64, n int) (along []float64) {
	along = make([]float64, n+1)
	for range 2 {
		for j := range n {
			d := dot(p.columns[j], v)
			along[j] += d
			subtract(v, p.columns[j], d)
		}
	}
	return along
}

// remove takes off v, which has all rows, what the columns can explain.
func (p *projection) remove(v []float64) {
	for _, q := range p.columns {
		subtract(v, q, dot(q, v))
	}
}

func subtract(v, q []float64, k float64) {
	q = q[:len(v)]
	for i := range v {
		v[i] -= k * q[i]
	}
}

func scale(v []float64, k float64) {
	for i := range v {
		v[i] *= k
	}
}

// paintPrior is the standard deviation of the pad's own paint from cell to cell, ln of light, that several
// photos share. It is more than the misfit of most photos: what is fixed to the pad all but cancels.
const paintPrior = 0.3

// unpaint whitens: rows that share an unknown of each cell (the paint) become rows with independent errors,
// by taking off a part of their weighted mean. weights[k] are photo k's per cell, over its noise; paint is
// its deviation, inflated as the noise is.
func unpaint(rows []float64, weights [][]float64, paint float64) {
	n := len(weights[0])
	for i := range n {
		var uu, uy float64
		for k, w := range weights {
			uu += w[i] * w[i]
			uy += w[i] * rows[k*n+i]
		}
		if uu == 0 {
			continue
		}
		known := 1 / (paint * paint)
		share := (1 - math.Sqrt(known/(known+uu))) * uy / uu
		for k, w := range weights {
			rows[k*n+i] -= share * w[i]
		}
	}
}
