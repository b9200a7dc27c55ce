package ink

import "math"

// surface is the pressure over the plane: both dents, and the bumps that no family describes.
type surface struct {
	dents [2]dent
	field *field
	bumps []float64
}

func (s *surface) at(x, y float64) float64 {
	return pressure(&s.dents, x, y, nil) + s.field.height(s.bumps, x, y)
}

// summit is the surface's highest point within reach of (x, y), mm: the best of a grid, then Newton's steps on ever smaller
// quadratics through nine points.
func (s *surface) summit(x, y, reach, gap float64) (float64, float64) {
	best, cx, cy := math.Inf(-1), x, y
	for a := -reach; a <= reach; a += gap {
		for b := -reach; b <= reach; b += gap {
			if z := s.at(cx+a, cy+b); z > best {
				best, x, y = z, cx+a, cy+b
			}
		}
	}
	for h, turns := gap/2, 0; h > 0.04 && turns < 60; turns++ {
		dx, dy := uphill(func(a, b float64) float64 { return s.at(x+a*h, y+b*h) })
		z := s.at(x+dx*h, y+dy*h)
		up := z > best
		if up {
			best, x, y = z, x+dx*h, y+dy*h
		}
		if !up || math.Max(math.Abs(dx), math.Abs(dy)) < 0.5 {
			h /= 2
		}
	}
	return x, y
}

// uphill is the step to the top of the quadratic through nine values of f, at most two units, or one along the slope where
// the quadratic has no top.
func uphill(f func(a, b float64) float64) (dx, dy float64) {
	here, right, left, down, up := f(0, 0), f(1, 0), f(-1, 0), f(0, 1), f(0, -1)
	cross := (f(1, 1) + f(-1, -1) - f(1, -1) - f(-1, 1)) / 4
	gx, gy := (right-left)/2, (down-up)/2
	hx, hy := right+left-2*here, down+up-2*here
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
