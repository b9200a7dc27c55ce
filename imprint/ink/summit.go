package ink

import (
	"math"
	"math/rand/v2"
)

const (
	// roughness is how far a real surface departs from any smooth family, in dents' heights: some tenth of a millimetre of
	// flesh and cloth on ten (an assumption; no source). On a round mark it moves the summit little; on a flat one it is
	// what decides where the summit is.
	roughness = 0.012
	// lump is the correlation length of that, mm: exp(-r^2 / 2 lump^2).
	lump  = 17.0
	waves = 12
)

// surface is the pressure over the plane: both dents and what no family describes.
type surface struct {
	dents [2]dent
	rough []wave
}

// wave is one of the waves that a rough surface is drawn as.
type wave struct{ height, kx, ky, phase float64 }

// roughen draws the departure from the family: waves whose directions and lengths have the Gaussian spectrum of the
// correlation above (Rahimi and Recht, Random features for large-scale kernel machines, 2007, from memory).
func (s *surface) roughen(random *rand.Rand) {
	s.rough = s.rough[:0]
	for range waves {
		s.rough = append(s.rough, wave{roughness * math.Sqrt(2./waves), random.NormFloat64() / lump, random.NormFloat64() / lump, 2 * math.Pi * random.Float64()})
	}
}

func (s *surface) at(x, y float64) float64 {
	z := pressure(&s.dents, x, y, nil)
	for _, w := range s.rough {
		z += w.height * math.Cos(w.kx*x+w.ky*y+w.phase)
	}
	return z
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
