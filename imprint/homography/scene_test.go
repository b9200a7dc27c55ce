package homography

import (
	"math"
	"math/rand/v2"
	"testing"

	"github.com/stretchr/testify/require"
)

// scene is a camera over the frame, projected in three dimensions by code of
// its own: nothing here goes through the package's homography.
type scene struct {
	width, height   int
	focal           float64    // px
	camera          [3]float64 // x, y, height above the plane, mm
	tilt, turn, yaw float64    // degrees: about x, about y, about the optical axis
	k1, k2          float64    // in units of the focal length, as truth files state them
	principal       Pixel      // offset from the picture's centre, px
	// of the print: its x scale over its y scale less 1, and how far its y axis leans to x, rad
	stretch, skew float64
}

// phone is a typical view: 2016 x 1512 px, 26 mm equivalent, from 300 mm.
func phone() scene {
	return scene{
		width: 2016, height: 1512, focal: 26 / 43.2666 * 2520,
		camera: [3]float64{15, -10, 300}, tilt: 5, turn: -3, yaw: 4,
	}
}

// rotate turns v by the angle in degrees in the plane of axes a and b.
func rotate(v [3]float64, a, b int, degrees float64) [3]float64 {
	sin, cos := math.Sincos(degrees * math.Pi / 180)
	v[a], v[b] = cos*v[a]-sin*v[b], sin*v[a]+cos*v[b]
	return v
}

// see projects a point x, y at depth mm below the frame's plane.
func (s scene) see(x, y, depth float64) Pixel {
	ray := [3]float64{x - s.camera[0], y - s.camera[1], depth + s.camera[2]}
	ray = rotate(rotate(rotate(ray, 1, 2, s.tilt), 2, 0, s.turn), 0, 1, s.yaw)
	u, v := ray[0]/ray[2], ray[1]/ray[2]
	r2 := u*u + v*v
	gain := s.focal * (1 + s.k1*r2 + s.k2*r2*r2)
	return Pixel{
		(float64(s.width)-1)/2 + s.principal.X + u*gain,
		(float64(s.height)-1)/2 + s.principal.Y + v*gain,
	}
}

// markCentres are the centres of the frame's twelve coded marks in mm, their
// side is 20 mm (the frame's own drawing).
var markCentres = []PlanePoint{
	{-119, -83}, {-59.5, -83}, {0, -83}, {59.5, -83}, {119, -83}, {119, 0},
	{119, 83}, {59.5, 83}, {0, 83}, {-59.5, 83}, {-119, 83}, {-119, 0},
}

// corners lists the corners of the marks as the scene shows them, with noise
// px of Gaussian noise on either coordinate and lift mm(x, y) of the frame
// above its plane.
func (s scene) corners(random *rand.Rand, noise float64, lift func(x, y float64) float64) []Correspondence {
	var out []Correspondence
	for id, centre := range markCentres {
		for _, c := range [][2]float64{{-10, -10}, {10, -10}, {10, 10}, {-10, 10}} {
			at := PlanePoint{centre.X + c[0], centre.Y + c[1]}
			depth := 0.0
			if lift != nil {
				depth = -lift(at.X, at.Y)
			}
			pixel := s.see(at.X*(1+s.stretch)+at.Y*s.skew, at.Y, depth)
			if noise > 0 {
				pixel.X += noise * random.NormFloat64()
				pixel.Y += noise * random.NormFloat64()
			}
			out = append(out, Correspondence{Pixel: pixel, Plane: at, Group: id, U: noise})
		}
	}
	return out
}

// options are those of the scene's picture.
func (s scene) options() Options { return ForPhoto(s.width, s.height) }

// halfDiagonals returns the lens terms in the package's unit.
func (s scene) halfDiagonals() (k1, k2 float64) {
	ratio := s.options().halfDiagonal() / s.focal
	return s.k1 * ratio * ratio, s.k2 * math.Pow(ratio, 4)
}

// drawLens draws a lens from the prior of phones.
func (s *scene) drawLens(random *rand.Rand) {
	prior := PhoneLens()
	ratio := s.focal / s.options().halfDiagonal()
	s.k1 = prior.UK1 * random.NormFloat64() * ratio * ratio
	s.k2 = prior.UK2 * random.NormFloat64() * math.Pow(ratio, 4)
	u := prior.UPrincipal * s.options().halfDiagonal()
	s.principal = Pixel{u * random.NormFloat64(), u * random.NormFloat64()}
}

// drawPrint draws a print from what is assumed of prints.
func (s *scene) drawPrint(random *rand.Rand) {
	s.stretch, s.skew = uStretch*random.NormFloat64(), uSkew*random.NormFloat64()
}

func mustFit(t *testing.T, points []Correspondence, o Options) *PlaneFit {
	t.Helper()
	fit, err := Fit(points, o)
	require.NoError(t, err)
	return fit
}

func source(seed uint64) *rand.Rand { return rand.New(rand.NewPCG(seed, 2)) }
