package ink

import (
	"math"
	"math/rand/v2"
)

// Marks for the tests, drawn by other formulas than the model's: each dent a heap of three hills that do not
// lie in line, ink that saturates as 1 - exp(-x) and not as tanh, grain that multiplies the light. All of it
// is invented, so truth is what was drawn.
const (
	sceneW, sceneH = 104, 64
	sceneStep      = 2.0 // mm
	sceneX, sceneY = -103.0, -63.0
)

type drawnSide struct {
	x, y, long, wide, turn, height float64 // mm, rad
}

type scene struct {
	sides  [2]drawnSide
	basin  float64 // height over a dent's
	sill   float64
	gain   float64 // how dark: 1 is pale, 4 saturates
	grain  float64 // relative, per 2 mm
	seed   uint64
	shade  float64    // of the paper from left to right
	shift  [2]float64 // moves all of it
	second float64    // depth of a copy 5 mm beside: the rider slid
	ridge  float64    // above 0 each dent is a ridge that sags by so much half a length off its top
	top    float64    // where along it that is, in half lengths
}

// usual is a plain pair of marks, 120 mm apart but for the basins.
func usual() scene {
	return scene{
		sides: [2]drawnSide{{-60, 2, 19, 13, -0.3, 1}, {60, -3, 18, 14, 0.3, 0.95}},
		basin: 0.5, sill: 0.3, gain: 2, grain: 0.04, seed: 1,
	}
}

func (s scene) pressure(x, y float64) (z float64) {
	x, y = x-s.shift[0], y-s.shift[1]
	for k, d := range s.sides {
		sin, cos := math.Sincos(d.turn)
		u, v := (y-d.y)*cos+(x-d.x)*sin, (x-d.x)*cos-(y-d.y)*sin
		if s.ridge > 0 {
			z += d.height * s.crest(u/d.long) / math.Pow(math.Cosh(v/d.wide), 2)
		} else {
			z += d.height * hills(u/d.long, v/d.wide)
		}
		out := float64(2*k-1) * 7
		ex, ey := (x-d.x-out)/46, (y-d.y-3)/42
		z += s.basin * math.Exp(-(ex*ex+ey*ey)/2)
	}
	return z
}

// crest is a ridge's height at u half lengths from its middle.
func (s scene) crest(u float64) float64 {
	return math.Max(0, 1-s.ridge*(u-s.top)*(u-s.top)) / (1 + math.Pow(u, 8)/8)
}

// hills are a heap of three, u and v in their half lengths.
func hills(u, v float64) (z float64) {
	// height, where, size
	for _, hill := range [3][4]float64{{0.8, 0, 0, 1}, {0.15, 0.7, 0.4, 0.7}, {0.12, -0.8, 0.3, 0.8}} {
		a, b := u-hill[1], v-hill[2]
		z += hill[0] * math.Exp(-(a*a+b*b)/(2*hill[3]*hill[3]))
	}
	return z
}

// truth are the tops left and right, as the measurand has them, about the best points of a grid of 1 mm.
func (s scene) truth() (at [2][2]float64) {
	for k, d := range s.sides {
		cx, cy, best := d.x+s.shift[0], d.y+s.shift[1], math.Inf(-1)
		for x := cx - 15; x <= cx+15; x++ {
			for y := cy - 15; y <= cy+15; y++ {
				if z := s.pressure(x, y); z > best {
					best, at[k] = z, [2]float64{x, y}
				}
			}
		}
		for range 8 {
			at[k] = quadraticTop(s.pressure, at[k])
		}
	}
	return at
}

// quadraticTop is the top of the least squares quadratic through 81 x 81 points of f, 0.1 mm apart, about a
// place. On them the terms 1, x, y, xy, x^2 and y^2 less their means are orthogonal, so each factor is a
// regression of its own.
func quadraticTop(f func(x, y float64) float64, at [2]float64) [2]float64 {
	const n, mean = 81 * 81, (81*81 - 1) / 1200.0 // of x^2
	var gx, gy, hx, hy, cross, spread float64
	for i := -40; i <= 40; i++ {
		for j := -40; j <= 40; j++ {
			a, b := float64(i)/10, float64(j)/10
			z := f(at[0]+a, at[1]+b)
			gx, gy, cross = gx+z*a/(n*mean), gy+z*b/(n*mean), cross+z*a*b/(n*mean*mean)
			hx, hy, spread = hx+2*z*(a*a-mean), hy+2*z*(b*b-mean), spread+(a*a-mean)*(a*a-mean)
		}
	}
	hx, hy = hx/spread, hy/spread
	det := hx*hy - cross*cross
	return [2]float64{at[0] - (hy*gx-cross*gy)/det, at[1] - (hx*gy-cross*gx)/det}
}

func (s scene) spacing() float64 {
	t := s.truth()
	return math.Hypot(t[1][0]-t[0][0], t[1][1]-t[0][1])
}

// light draws the window.
func (s scene) light() []float64 {
	random := rand.New(rand.NewPCG(s.seed, 7))
	noise := make([]float64, sceneW*sceneH)
	for i := range noise {
		noise[i] = random.NormFloat64()
	}
	light := make([]float64, sceneW*sceneH)
	for i := range light {
		x, y := sceneX+sceneStep*float64(i%sceneW), sceneY+sceneStep*float64(i/sceneW)
		ink := s.ink(x, y)
		if s.second > 0 {
			ink = math.Max(ink, s.second*s.ink(x-5, y))
		}
		ink *= 1 + s.grain/0.5*(noise[i]+noise[max(0, i-1)])/math.Sqrt2 // neighbours in a row share theirs
		light[i] = 0.85 * (1 + s.shade*x/200) * math.Pow(1-0.7*math.Max(0, math.Min(1, ink)), 2.2)
	}
	return light
}

func (s scene) ink(x, y float64) float64 {
	return 1 - math.Exp(-s.gain*math.Max(0, s.pressure(x, y)-s.sill))
}

// rough are starts a net might give: several mm off.
func (s scene) rough() [2][2]float64 {
	t := s.truth()
	return [2][2]float64{{t[0][0] + 4, t[0][1] - 5}, {t[1][0] - 3, t[1][1] + 6}}
}

func (s scene) fit() (Reading, error) {
	return Fit(s.light(), sceneW, sceneH, sceneX, sceneY, sceneStep, s.rough())
}

func (r Reading) distance() float64 { return math.Hypot(r.Right.X-r.Left.X, r.Right.Y-r.Left.Y) }
