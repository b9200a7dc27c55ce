package cv

import (
	"image"
	"math"
	"math/rand/v2"

	"sitspan/calibration"
)

// scene is a control frame drawn through a known camera: the reference for the
// corners is the map itself.
type scene struct {
	w, h          int
	tiltDeg       float64 // of the camera's axis against the vertical
	aboutDeg      float64 // direction of the tilt in the frame
	turnDeg       float64 // of the picture about the camera's axis
	pxPerMM       float64 // at the frame's centre
	black, white  float64 // grey levels of ink and paper
	table         float64
	blur          float64 // Gaussian sigma of the whole picture, px
	noise         float64 // standard deviation, grey levels
	spread        float64 // ink's growth beyond its outline, mm; negative shrinks it
	shadow        float64 // share of the light left beyond a shadow's edge, 0 means none
	seed          uint64
	withoutMarks  func(id int) bool
	distance      float64 // of the camera in mm; 0 means 400
	ticksAtWindow bool
}

func plainScene() scene {
	return scene{w: 1000, h: 750, pxPerMM: 3, black: 40, white: 215, table: 90, blur: 0.8, noise: 2, seed: 1}
}

// pixelFromPlane is the pinhole camera: the plane turned by the tilt about an
// axis in it, moved away, and projected.
func (s scene) pixelFromPlane(x, y float64) Pixel {
	d := s.distance
	if d == 0 {
		d = 400
	}
	ta, tt, tr := s.aboutDeg*math.Pi/180, s.tiltDeg*math.Pi/180, s.turnDeg*math.Pi/180
	u, v := x*math.Cos(ta)+y*math.Sin(ta), -x*math.Sin(ta)+y*math.Cos(ta)
	z := d + u*math.Sin(tt)
	u *= math.Cos(tt)
	x, y = u*math.Cos(ta)-v*math.Sin(ta), u*math.Sin(ta)+v*math.Cos(ta)
	f := s.pxPerMM * d
	px, py := f*x/z, f*y/z
	return Pixel{
		X: px*math.Cos(tr) - py*math.Sin(tr) + float64(s.w-1)/2,
		Y: px*math.Sin(tr) + py*math.Cos(tr) + float64(s.h-1)/2,
	}
}

// planeFromPixel inverts it: the plane's homography is fixed by four points.
func (s scene) planeFromPixel() func(px, py float64) (x, y float64) {
	t := newFromUnitSquare([4]Pixel{s.pixelFromPlane(0, 0), s.pixelFromPlane(100, 0), s.pixelFromPlane(100, 100),
		s.pixelFromPlane(0, 100)})
	// The adjugate of [a b c; d e f; g h 1].
	i := [9]float64{
		t.e - t.f*t.h, t.c*t.h - t.b, t.b*t.f - t.c*t.e,
		t.f*t.g - t.d, t.a - t.c*t.g, t.c*t.d - t.a*t.f,
		t.d*t.h - t.e*t.g, t.b*t.g - t.a*t.h, t.a*t.e - t.b*t.d,
	}
	return func(px, py float64) (x, y float64) {
		w := i[6]*px + i[7]*py + i[8]
		return 100 * (i[0]*px + i[1]*py + i[2]) / w, 100 * (i[3]*px + i[4]*py + i[5]) / w
	}
}

// ink says whether the print is black at a point of the plane, mm.
func (s scene) ink(x, y float64) bool {
	for _, m := range calibration.ControlFrame.Marks {
		dx, dy := x-m.Centre.X, y-m.Centre.Y
		if math.Abs(dx) > 12 || math.Abs(dy) > 12 {
			continue
		}
		if s.withoutMarks != nil && s.withoutMarks(m.ID) {
			return false
		}
		return s.inkOfMark(m, dx, dy)
	}
	if s.ticksAtWindow && math.Abs(y) > 70.3 && math.Abs(y) < 72.5 && math.Abs(x) < 106 {
		return math.Abs(x-10*math.Round(x/10)) < 0.1
	}
	return false
}

// inkOfMark grows the black modules by the spread: a point is black when a
// square of twice the spread about it meets black, white being empty space.
func (s scene) inkOfMark(m calibration.Mark, dx, dy float64) bool {
	black := func(x, y float64) bool {
		c, r := int(math.Floor((x+10)/calibration.Module)), int(math.Floor((y+10)/calibration.Module))
		return c >= 0 && r >= 0 && c < 7 && r < 7 && m.Black(r, c)
	}
	if s.spread == 0 {
		return black(dx, dy)
	}
	any, all, e := false, true, math.Abs(s.spread)
	for _, p := range [][2]float64{{-e, -e}, {e, -e}, {e, e}, {-e, e}} {
		b := black(dx+p[0], dy+p[1])
		any, all = any || b, all && b
	}
	return s.spread > 0 && any || s.spread < 0 && all
}

// grey is the light from a point of the plane, in grey levels.
func (s scene) grey(x, y float64) float64 {
	g := s.table
	if math.Abs(x) < 132 && math.Abs(y) < 96 && !(math.Abs(x) < 106 && math.Abs(y) < 70) {
		if g = s.white; s.ink(x, y) {
			g = s.black
		}
	}
	if s.shadow > 0 && x+0.4*y > 20 {
		g *= s.shadow
	}
	return g
}

// draw renders the scene, blurred and with noise: a pixel is the mean of 6 x 6
// points where its corners and middle differ, else the middle.
func (s scene) draw() *image.Gray {
	plane := s.planeFromPixel()
	grey := func(px, py float64) float64 { return s.grey(plane(px, py)) }
	lattice := make([]float64, (s.w+1)*(s.h+1)) // of pixel corners
	for i := range lattice {
		lattice[i] = grey(float64(i%(s.w+1))-0.5, float64(i/(s.w+1))-0.5)
	}
	v := make([]float64, s.w*s.h)
	for i := range v {
		x, y := i%s.w, i/s.w
		c := y*(s.w+1) + x
		v[i] = grey(float64(x), float64(y))
		if lattice[c] == v[i] && lattice[c+1] == v[i] && lattice[c+s.w+1] == v[i] && lattice[c+s.w+2] == v[i] {
			continue
		}
		const sub = 6
		sum := 0.0
		for k := range sub * sub {
			sum += grey(float64(x)+(float64(k%sub)+0.5)/sub-0.5, float64(y)+(float64(k/sub)+0.5)/sub-0.5)
		}
		v[i] = sum / (sub * sub)
	}
	v = gaussianBlur(v, s.w, s.h, s.blur)
	rng := rand.New(rand.NewPCG(s.seed, 7))
	img := image.NewGray(image.Rect(0, 0, s.w, s.h))
	for i := range v {
		img.Pix[i] = uint8(min(255, max(0, math.Round(v[i]+s.noise*rng.NormFloat64()))))
	}
	return img
}

// gaussianBlur convolves with a Gaussian of sigma px, rows then columns.
func gaussianBlur(v []float64, w, h int, sigma float64) []float64 {
	if sigma <= 0 {
		return v
	}
	r := int(math.Ceil(4 * sigma))
	kernel, total := make([]float64, 2*r+1), 0.0
	for i := range kernel {
		kernel[i] = math.Exp(-0.5 * math.Pow(float64(i-r)/sigma, 2))
		total += kernel[i]
	}
	return transposed(blurRows(transposed(blurRows(v, w, kernel, total), w), h, kernel, total), h)
}

// blurRows convolves rows of w values; the rim repeats.
func blurRows(in []float64, w int, kernel []float64, total float64) []float64 {
	out, r := make([]float64, len(in)), len(kernel)/2
	for i := range out {
		row, x, sum := in[i/w*w:i/w*w+w], i%w, 0.0
		for k, c := range kernel {
			sum += c * row[min(w-1, max(0, x+k-r))]
		}
		out[i] = sum / total
	}
	return out
}

func transposed(in []float64, w int) []float64 {
	out, h := make([]float64, len(in)), len(in)/w
	for i, v := range in {
		out[i%w*h+i/w] = v
	}
	return out
}

// cornerErrors are the differences to the true corners in px, and the same in
// units of the claimed standard uncertainty.
func (s scene) cornerErrors(marks []Mark) (px, normalised []float64) {
	for _, m := range marks {
		for i, c := range calibration.ControlFrame.Marks[m.ID].Corners() {
			t := s.pixelFromPlane(c.X, c.Y)
			for _, d := range []float64{m.Corners[i].X - t.X, m.Corners[i].Y - t.Y} {
				px, normalised = append(px, d), append(normalised, d/m.U[i])
			}
		}
	}
	return px, normalised
}

func rms(v []float64) float64 {
	s := 0.0
	for _, x := range v {
		s += x * x
	}
	return math.Sqrt(s / float64(len(v)))
}

// frameCorners are a mark's corners in mm.
func frameCorners(id int) (q [4][2]float64) {
	for i, c := range calibration.ControlFrame.Marks[id].Corners() {
		q[i] = [2]float64{c.X, c.Y}
	}
	return q
}
