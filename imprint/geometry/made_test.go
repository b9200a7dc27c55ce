package geometry

import (
	"image"
	"math"
	"math/rand/v2"

	"sitspan/imprint/geometry/bundle"
	"sitspan/imprint/geometry/dots"
)

// pad is a made relief: depth below the frame's plane, mm.
type pad func(x, y float64) float64

// bells are two round dents on a gentle basin.
func bells(left, right [2]float64, sigma, depth float64) pad {
	return func(x, y float64) float64 {
		z := 4 * math.Exp(-(x*x/(2*70*70) + y*y/(2*50*50)))
		for _, c := range [][2]float64{left, right} {
			r2 := (x-c[0])*(x-c[0]) + (y-c[1])*(y-c[1])
			z += depth * math.Exp(-r2/(2*sigma*sigma))
		}
		return z + 0.4
	}
}

// camera is a made camera.
type camera struct {
	tilt, azimuth, distance, roll float64 // rad, mm
	f35                           float64 // mm
	k1                            float64
	width, height                 int
}

// pose is the camera's rotation and position.
func (c camera) pose() (r [9]float64, p bundle.Vec) {
	p = bundle.Vec{c.distance * math.Sin(c.tilt) * math.Cos(c.azimuth),
		c.distance * math.Sin(c.tilt) * math.Sin(c.azimuth), -c.distance * math.Cos(c.tilt)}
	z := bundle.Vec{-p[0] / c.distance, -p[1] / c.distance, -p[2] / c.distance}
	up := bundle.Vec{math.Cos(c.roll), math.Sin(c.roll), 0}
	d := up[0]*z[0] + up[1]*z[1]
	x := bundle.Vec{up[0] - d*z[0], up[1] - d*z[1], -d * z[2]}
	n := math.Sqrt(x[0]*x[0] + x[1]*x[1] + x[2]*x[2])
	for k := range x {
		x[k] /= n
	}
	y := bundle.Vec{z[1]*x[2] - z[2]*x[1], z[2]*x[0] - z[0]*x[2], z[0]*x[1] - z[1]*x[0]}
	return [9]float64{x[0], x[1], x[2], y[0], y[1], y[2], z[0], z[1], z[2]}, p
}

func (c camera) focal() float64 {
	return c.f35 / 43.2666 * math.Hypot(float64(c.width), float64(c.height))
}

// show is where the camera shows a point, px.
func (c camera) show(x bundle.Vec) dots.Pixel {
	r, p := c.pose()
	var q bundle.Vec
	for i := range 3 {
		for k := range 3 {
			q[i] += r[3*i+k] * (x[k] - p[k])
		}
	}
	half := math.Hypot(float64(c.width), float64(c.height)) / 2
	u, w := c.focal()/half*q[0]/q[2], c.focal()/half*q[1]/q[2]
	gain := 1 + c.k1*(u*u+w*w)
	return dots.Pixel{X: float64(c.width-1)/2 + half*u*gain, Y: float64(c.height-1)/2 + half*w*gain}
}

// onPlane is where the line of sight to a point meets the frame's plane, mm.
func (c camera) onPlane(x bundle.Vec) dots.Point {
	_, p := c.pose()
	t := -p[2] / (x[2] - p[2])
	return dots.Point{X: p[0] + t*(x[0]-p[0]), Y: p[1] + t*(x[1]-p[1])}
}

// made is a scene that is drawn without pictures: dots, cameras, noise.
type made struct {
	pad      pad
	cameras  []camera
	noise    float64 // px, of a dot's or a corner's coordinate
	bow      float64 // mm, of the frame
	moved    int     // a photo for which the frame was moved, by 6 mm; -1 for none
	rough    float64 // mm
	spotless float64 // share of dots that a photo does not show
}

// usual are three cameras as the docs ask for them: above, then from either side.
func usual(random *rand.Rand) []camera {
	c := camera{f35: 26, width: 2016, height: 1512}
	var all []camera
	for k := range 3 {
		d := c
		d.distance = 330 + 60*random.Float64()
		d.roll = 0.1 * random.NormFloat64()
		d.k1 = 0.006 * random.NormFloat64()
		d.f35 = 26 * (1 + 0.03*random.NormFloat64())
		if k > 0 {
			d.tilt, d.azimuth = (18+8*random.Float64())*math.Pi/180, 0.3*random.NormFloat64()+float64(k-1)*math.Pi
		} else {
			d.tilt, d.azimuth = 0.08*random.Float64(), 6*random.Float64()
		}
		all = append(all, d)
	}
	return all
}

// photos draws what each camera shows.
func (m made) photos(random *rand.Rand) (all []Photo) {
	var at []bundle.Vec
	for y := -82.0; y <= 82; y += 9 {
		for x := -118.0; x <= 118; x += 9 {
			px, py := x+1.6*random.NormFloat64(), y+1.6*random.NormFloat64()
			at = append(at, bundle.Vec{px, py, m.pad(px, py) + m.rough*random.NormFloat64()})
		}
	}
	phase := 6 * random.Float64()
	for v, c := range m.cameras {
		p := Photo{Width: c.width, Height: c.height, Focal: 26 / 43.2666 * math.Hypot(float64(c.width),
			float64(c.height)), FocalU: 0.04}
		p.Rotation, p.Position = c.pose()
		// The first idea of a pose is a little wrong, as from one photo.
		for k := range 3 {
			p.Position[k] += 2 * random.NormFloat64()
		}
		shift := 0.0
		if v == m.moved && m.moved > 0 {
			shift = 6
		}
		for _, x := range at {
			seen := bundle.Vec{x[0] + shift, x[1] + shift/2, x[2]}
			q := c.onPlane(seen)
			if math.Abs(q.X) > 102 || math.Abs(q.Y) > 66 || random.Float64() < m.spotless {
				continue
			}
			px := c.show(seen)
			px.X += m.noise * random.NormFloat64()
			px.Y += m.noise * random.NormFloat64()
			p.Dots = append(p.Dots, dots.Dot{Pixel: px, U: m.noise, Point: q, RadiusMM: 1.2, Contrast: -0.8})
		}
		id := 0
		for _, cx := range []float64{-120, -60, 0, 60, 120} {
			for _, cy := range []float64{-84, 0, 84} {
				if cy == 0 && math.Abs(cx) < 100 {
					continue
				}
				for k := range 4 {
					x, y := cx+[]float64{-10, 10, 10, -10}[k], cy+[]float64{-10, -10, 10, 10}[k]
					px := c.show(bundle.Vec{x, y, m.bow * math.Sin(x/60+phase) * math.Cos(y/60)})
					px.X += m.noise * random.NormFloat64()
					px.Y += m.noise * random.NormFloat64()
					p.Corners = append(p.Corners, Corner{Mark: id, Index: k, X: x, Y: y, At: px, U: m.noise})
				}
				id++
			}
		}
		all = append(all, p)
	}
	return all
}

// picture draws what a camera shows of a pad with a grain of its own: patterned noise of some 1.2 mm, with
// the frame left out, which the grain's matcher does not look at.
func (m made) picture(random *rand.Rand, c camera, grain func(x, y float64) float64) *image.Gray {
	g := image.NewGray(image.Rect(0, 0, c.width, c.height))
	r, p := c.pose()
	half := math.Hypot(float64(c.width), float64(c.height)) / 2
	for y := range c.height {
		for x := range c.width {
			u, w := (float64(x)-float64(c.width-1)/2)/half, (float64(y)-float64(c.height-1)/2)/half
			gain := 1 + c.k1*(u*u+w*w) // to first order, which k1 of a few thousandths allows
			q := bundle.Vec{u / gain * half / c.focal(), w / gain * half / c.focal(), 1}
			var d bundle.Vec
			for k := range 3 {
				d[k] = r[k]*q[0] + r[3+k]*q[1] + r[6+k]*q[2]
			}
			z := 0.0
			for range 12 { // where the ray meets the relief
				t := (z - p[2]) / d[2]
				z = m.pad(p[0]+t*d[0], p[1]+t*d[1])
			}
			t := (z - p[2]) / d[2]
			level := 120*math.Exp(0.12*grain(p[0]+t*d[0], p[1]+t*d[1])) + 1.5*random.NormFloat64()
			g.Pix[y*g.Stride+x] = uint8(math.Min(255, math.Max(0, math.Round(level))))
		}
	}
	return g
}

// speckle is a random pattern with details of some 1.2 mm, of unit variance or so.
func speckle(random *rand.Rand) func(x, y float64) float64 {
	const cell, columns, rows = 1.2, 240, 170
	v := make([]float64, columns*rows)
	for i := range v {
		v[i] = 1.6 * random.NormFloat64()
	}
	return func(x, y float64) float64 {
		i, j := x/cell+columns/2, y/cell+rows/2
		i, j = math.Min(math.Max(i, 0), columns-2.001), math.Min(math.Max(j, 0), rows-2.001)
		a, b := int(i), int(j)
		fx, fy := i-float64(a), j-float64(b)
		fx, fy = fx*fx*(3-2*fx), fy*fy*(3-2*fy)
		top := v[b*columns+a]*(1-fx) + v[b*columns+a+1]*fx
		return top*(1-fy) + (v[(b+1)*columns+a]*(1-fx)+v[(b+1)*columns+a+1]*fx)*fy
	}
}
