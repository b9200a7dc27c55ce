package ink

import "math"

// surface is the pressure over the plane: both dents, and the bumps that no family describes.
type surface struct {
	shape shape
	field *field
	bumps []float64
}

func (s *surface) at(x, y float64) float64 {
	return s.shape.at(x, y) + s.field.height(s.bumps, x, y)
}

// The top is that of the quadratic that fits best over a square of topReach mm to either side, by Gauss and
// Legendre's rule of three points a side: they lie topSide from the middle, and the outer ones weigh 5 to the
// middle's 8.
const topReach = 4.0

var topSide = topReach * math.Sqrt(0.6)

// summit is the top of the quadratic about the surface's highest point within reach of (x, y), mm: the best
// of a grid, then steps to the tops of the quadratics about where the last one ended.
func (s *surface) summit(x, y, reach, gap float64) (float64, float64) {
	best, cx, cy := math.Inf(-1), x, y
	for a := -reach; a <= reach; a += gap {
		for b := -reach; b <= reach; b += gap {
			if z := s.at(cx+a, cy+b); z > best {
				best, x, y = z, cx+a, cy+b
			}
		}
	}
	step := topSide
	for turn := range 20 {
		dx, dy := uphill(func(a, b float64) float64 { return s.at(x+a*topSide, y+b*topSide) })
		x, y = x+dx*step, y+dy*step
		if math.Max(math.Abs(dx), math.Abs(dy)) < 0.01 {
			break
		}
		if turn > 8 { // there and back
			step /= 2
		}
	}
	return x, y
}

// uphill is the step to the top of the quadratic that fits f best, by its nine points at -1, 0 and 1; at most
// two units, or one along the slope where the quadratic has no top.
func uphill(f func(a, b float64) float64) (dx, dy float64) {
	var z [3][3]float64
	for a := range z {
		for b := range z {
			z[a][b] = f(float64(a-1), float64(b-1))
		}
	}
	cross := (z[2][2] + z[0][0] - z[2][0] - z[0][2]) / 4
	gx, gy, hx, hy := 0.0, 0.0, 0.0, 0.0
	for k, weight := range [3]float64{5. / 18, 8. / 18, 5. / 18} {
		gx += weight * (z[2][k] - z[0][k]) / 2
		gy += weight * (z[k][2] - z[k][0]) / 2
		hx += weight * (z[2][k] + z[0][k] - 2*z[1][k])
		hy += weight * (z[k][2] + z[k][0] - 2*z[k][1])
	}
	if det := hx*hy - cross*cross; hx < 0 && det > 0 {
		dx, dy = -(hy*gx-cross*gy)/det, -(hx*gy-cross*gx)/det
		if far := math.Max(math.Abs(dx), math.Abs(dy)); far > 2 {
			dx, dy = 2*dx/far, 2*dy/far
		}
		return dx, dy
	}
	if s := math.Hypot(gx, gy); s > 0 {
		return gx / s, gy / s
	}
	return 0, 0
}
