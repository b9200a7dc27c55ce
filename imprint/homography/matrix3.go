package homography

import "math"

// matrix3 is a 3 x 3 matrix in row order: a homography or a rotation.
type matrix3 [9]float64

// apply maps the point (x, y, 1) and divides by the third coordinate.
func (m matrix3) apply(x, y float64) (float64, float64) {
	w := m[6]*x + m[7]*y + m[8]
	return (m[0]*x + m[1]*y + m[2]) / w, (m[3]*x + m[4]*y + m[5]) / w
}

// times returns the matrix product m n.
func (m matrix3) times(n matrix3) matrix3 {
	var out matrix3
	for i := range 3 {
		for j := range 3 {
			out[3*i+j] = m[3*i]*n[j] + m[3*i+1]*n[3+j] + m[3*i+2]*n[6+j]
		}
	}
	return out
}

// determinant returns the determinant.
func (m matrix3) determinant() float64 {
	return m[0]*(m[4]*m[8]-m[5]*m[7]) - m[1]*(m[3]*m[8]-m[5]*m[6]) + m[2]*(m[3]*m[7]-m[4]*m[6])
}

// inverse returns the inverse by cofactors; not finite if m is singular.
func (m matrix3) inverse() matrix3 {
	d := m.determinant()
	return matrix3{
		(m[4]*m[8] - m[5]*m[7]) / d, (m[2]*m[7] - m[1]*m[8]) / d, (m[1]*m[5] - m[2]*m[4]) / d,
		(m[5]*m[6] - m[3]*m[8]) / d, (m[0]*m[8] - m[2]*m[6]) / d, (m[2]*m[3] - m[0]*m[5]) / d,
		(m[3]*m[7] - m[4]*m[6]) / d, (m[1]*m[6] - m[0]*m[7]) / d, (m[0]*m[4] - m[1]*m[3]) / d,
	}
}

// scaled returns m times s.
func (m matrix3) scaled(s float64) matrix3 {
	for i := range m {
		m[i] *= s
	}
	return m
}

// column returns column j.
func (m matrix3) column(j int) [3]float64 { return [3]float64{m[j], m[3+j], m[6+j]} }

// finite reports whether every entry is a finite number.
func (m matrix3) finite() bool {
	for _, v := range m {
		if math.IsNaN(v) || math.IsInf(v, 0) {
			return false
		}
	}
	return true
}

// rotation returns the rotation by |w| radians about w (Rodrigues' formula).
func rotation(w [3]float64) matrix3 {
	angle := math.Sqrt(dot(w, w))
	// sin(a)/a and (1-cos(a))/a^2, by their series where a is small: at 1e-4
	// the first term left out is 1e-16 of the value.
	s, c := 1-angle*angle/6, 0.5-angle*angle/24
	if angle > 1e-4 {
		s, c = math.Sin(angle)/angle, (1-math.Cos(angle))/(angle*angle)
	}
	x, y, z := w[0], w[1], w[2]
	return matrix3{
		1 - c*(y*y+z*z), c*x*y - s*z, c*x*z + s*y,
		c*x*y + s*z, 1 - c*(x*x+z*z), c*y*z - s*x,
		c*x*z - s*y, c*y*z + s*x, 1 - c*(x*x+y*y),
	}
}

func dot(a, b [3]float64) float64 { return a[0]*b[0] + a[1]*b[1] + a[2]*b[2] }

func cross(a, b [3]float64) [3]float64 {
	return [3]float64{a[1]*b[2] - a[2]*b[1], a[2]*b[0] - a[0]*b[2], a[0]*b[1] - a[1]*b[0]}
}

func plus(a, b [3]float64) [3]float64  { return [3]float64{a[0] + b[0], a[1] + b[1], a[2] + b[2]} }
func minus(a, b [3]float64) [3]float64 { return [3]float64{a[0] - b[0], a[1] - b[1], a[2] - b[2]} }

// unit returns a / |a|.
func unit(a [3]float64) [3]float64 {
	n := math.Sqrt(dot(a, a))
	return [3]float64{a[0] / n, a[1] / n, a[2] / n}
}
