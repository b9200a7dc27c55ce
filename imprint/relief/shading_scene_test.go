package relief

import (
	"math"
	"math/rand/v2"
	"slices"
)

// scene is an imprint drawn by equation (2) itself.
type scene struct {
	t     []float64
	paint func(Point) float64
	rng   *rand.Rand
}

func newScene(rng *rand.Rand) *scene {
	s := &scene{t: anyShape(rng, 0.8), rng: rng}
	s.paint = patches(rng, 0.01, 12)
	return s
}

// patches is smooth noise of the given deviation: white noise on a 4 mm grid under a Gaussian of standard
// deviation sd (mm), bilinear in between.
func patches(rng *rand.Rand, deviation, sd float64) func(Point) float64 {
	const step, nx, ny = 4.0, 90, 70
	v := make([]float64, nx*ny)
	for i := range v {
		v[i] = rng.NormFloat64()
	}
	filter(v, nx, 1, sd/step)
	filter(v, nx, nx, sd/step)
	return func(p Point) float64 {
		x, y := math.Max(0, math.Min(nx-2, p.X/step+nx/2)), math.Max(0, math.Min(ny-2, p.Y/step+ny/2))
		i, a, b := int(y)*nx+int(x), x-math.Floor(x), y-math.Floor(y)
		return deviation * ((v[i]*(1-a)+v[i+1]*a)*(1-b) + (v[i+nx]*(1-a)+v[i+nx+1]*a)*b)
	}
}

// filter runs a Gaussian of sd cells along rows (stride 1) or columns (stride nx) and keeps white noise's
// deviation at 1.
func filter(v []float64, nx, stride int, sd float64) {
	reach := int(3*sd) + 1
	in, sum2 := slices.Clone(v), 0.0
	clear(v)
	for k := -reach; k <= reach; k++ {
		w := math.Exp(-float64(k*k) / (2 * sd * sd))
		sum2 += w * w
		for i := range v {
			j := i + k*stride
			if j >= 0 && j < len(v) && (stride > 1 || j/nx == i/nx) {
				v[i] += w * in[j]
			}
		}
	}
	scale(v, 1/math.Sqrt(sum2))
}

// photograph shows the scene to a camera in a light of its own, with a misfit of its own that hangs together
// as far as the model takes it to (a Gaussian filter of standard deviation sd makes noise whose correlation
// covers 4 pi sd^2).
func (s *scene) photograph(v View, misfit, patch float64) Window {
	side := func() float64 { return 0.4 * s.rng.NormFloat64() }
	p, q, sq, r := side(), side(), -0.2-0.2*s.rng.Float64(), 0.003*s.rng.NormFloat64()
	b := [6]float64{-1.2, 0.05 * s.rng.NormFloat64(), 0.05 * s.rng.NormFloat64(), 0.05 * s.rng.NormFloat64(),
		0.05 * s.rng.NormFloat64(), 0.05 * s.rng.NormFloat64()}
	own := patches(s.rng, misfit, math.Sqrt(patch/(4*math.Pi)))
	surface := newSurface(s.t, nil)
	w := windowOf(func(seen Point) float64 {
		at := seen
		for range 15 { // the line of sight meets the surface: equation (1) at the depth that is there
			at = v.below(seen, surface.at(at.X, at.Y).d)
		}
		h := surface.at(at.X, at.Y)
		l := p*-h.x + q*-h.y + sq*(h.x*h.x+h.y*h.y) + r*-h.d + s.paint(at) + own(seen) + 0.002*s.rng.NormFloat64()
		for k, c := range quadratic(at) {
			l += b[k] * c
		}
		return l
	})
	w.View = v
	return w
}

// lampAtLens is the light of a lamp at the lens on a Lambert wall d mm below p with slopes x and y: the
// cosine over the distance's square, not the model's first order of it.
func lampAtLens(v View, p Point, h slope) float64 {
	x, y, z := v.X-p.X, v.Y-p.Y, v.Height+h.d
	far := math.Sqrt(x*x + y*y + z*z)
	return (h.x*x + h.y*y + z) / (math.Sqrt(1+h.x*h.x+h.y*h.y) * far) / (far * far)
}

// flash shows the scene to a camera whose flash is the only light.
func (s *scene) flash(v View, misfit float64) Window {
	own := patches(s.rng, misfit, math.Sqrt(patchAlone/(4*math.Pi)))
	surface := newSurface(s.t, nil)
	w := windowOf(func(seen Point) float64 {
		at := seen
		for range 15 {
			at = v.below(seen, surface.at(at.X, at.Y).d)
		}
		h := surface.at(at.X, at.Y)
		return math.Log(0.4*v.Height*v.Height*lampAtLens(v, at, slope{h.d, h.x, h.y})) + s.paint(at) + own(seen) +
			0.002*s.rng.NormFloat64()
	})
	white := make([]float64, len(Patches))
	for k, p := range Patches {
		white[k] = v.Height * v.Height * lampAtLens(v, p, slope{})
	}
	w.View = v
	w.Frame, _ = FitFrameLight(white)
	return w
}

// truth are the scene's bottoms with their depths.
func (s *scene) truth() (at [2]Point, depth [2]float64) {
	surface := newSurface(s.t, nil)
	for k := range at {
		p, h, found := surface.bottom(Point{s.t[2*k], s.t[2*k+1]})
		if !found {
			panic("a scene without a bottom")
		}
		at[k], depth[k] = p, h.d
	}
	return at, depth
}

// start is a guess that errs by some mm.
func (s *scene) start(v View, off, depthOff float64) ShadingStart {
	at, depth := s.truth()
	near := func(k int) Point {
		p, _ := v.seenAt(at[k], depth[k])
		return Point{p.X + off*s.rng.NormFloat64(), p.Y + off*s.rng.NormFloat64()}
	}
	e := depthOff * s.rng.NormFloat64()
	return ShadingStart{Left: near(0), Right: near(1), Depth: [2]float64{math.Max(2, depth[0]+e),
		math.Max(2, depth[1]+e)}, UDepth: [2]float64{depthOff, depthOff}}
}

// anyView is a phone 300 to 700 mm up, off the middle by the tangent of its tilt toward an azimuth.
func (s *scene) anyView(tilt, azimuth float64) View {
	h := 300 + 400*s.rng.Float64()
	return View{h * math.Tan(tilt) * math.Cos(azimuth), h * math.Tan(tilt) * math.Sin(azimuth), h}
}

// mostMisses is the number of misses that a fair 95 % interval stays below in all but one of a thousand tests
// of n draws.
func mostMisses(n int) int {
	p, sum := math.Pow(0.95, float64(n)), 0.0
	for k := 0; ; k++ {
		sum += p
		if sum > 0.999 {
			return k
		}
		p *= float64(n-k) / float64(k+1) * 0.05 / 0.95
	}
}

func finite(s Shading) bool {
	all := []float64{s.Left.At.X, s.Left.At.Y, s.Right.At.X, s.Right.At.Y, s.Left.Depth, s.Right.Depth, s.Ratio,
		s.ULnRatio,
		s.Left.Oblong[0], s.Left.Oblong[1], s.Right.Oblong[0], s.Right.Oblong[1], s.Left.VarOblong,
		s.Right.VarOblong}
	for _, row := range s.Cov {
		all = append(all, row[:]...)
	}
	all = append(all, s.Misfit...)
	return !slices.ContainsFunc(all, func(v float64) bool { return math.IsNaN(v) || math.IsInf(v, 0) })
}
