package bundle

import (
	"math"
	"math/rand/v2"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"gonum.org/v1/gonum/diff/fd"
)

// above is a view from straight above, a little turned.
func above() (View, pose, lens) {
	v := View{Width: 2016, Height: 1512}
	return v, pose{turned([9]float64{1, 0, 0, 0, 1, 0, 0, 0, 1}, Vec{0.2, -0.1, 0.4}), Vec{30, -20, -340}},
		lens{1500, 0.01, -0.004, 0.01, -0.02}
}

func TestProjectHasItsDerivatives(t *testing.T) {
	v, p, l := above()
	at := Vec{60, -40, 12}
	var d partials
	_, ok := v.project(p, l, at, &d)
	require.True(t, ok)
	// Unknowns: three of the point, six of the pose, five of the camera.
	show := func(out, x []float64) {
		q := pose{turned(p.rotation, Vec{x[3], x[4], x[5]}), Vec{p.position[0] + x[6], p.position[1] + x[7],
			p.position[2] + x[8]}}
		m := lens{l.focal * math.Exp(x[9]), l.k1 + x[10], l.k2 + x[11], l.cx + x[12], l.cy + x[13]}
		px, ok := v.project(q, m, Vec{at[0] + x[0], at[1] + x[1], at[2] + x[2]}, nil)
		require.True(t, ok)
		copy(out, px[:])
	}
	for row := range 2 {
		numeric := fd.Gradient(nil, func(x []float64) float64 {
			out := make([]float64, 2)
			show(out, x)
			return out[row]
		}, make([]float64, 14), &fd.Settings{Formula: fd.Central, Step: 1e-5})
		analytic := append(append(append([]float64(nil), d.byPoint[row][:]...), d.byPose[row][:]...),
			d.byCamera[row][:]...)
		for k := range numeric {
			assert.InDelta(t, numeric[k], analytic[k], 1e-4*math.Max(1, math.Abs(numeric[k])), "row %d, unknown %d",
				row, k)
		}
	}
}

func TestTurnedIsARotation(t *testing.T) {
	r := turned([9]float64{1, 0, 0, 0, 1, 0, 0, 0, 1}, Vec{0, 0, math.Pi / 2})
	want := [9]float64{0, -1, 0, 1, 0, 0, 0, 0, 1} // a quarter turn takes x to y
	for k := range want {
		assert.InDelta(t, want[k], r[k], 1e-12)
	}
}

// madeScene draws a frame's corners and tie points as two views from either side show them.
func madeScene(random *rand.Rand, noise float64) (*Scene, []Vec) {
	s := &Scene{
		Frame: Frame{BowU: 0.4, BowLength: 70, StretchU: 0.002, SkewU: 0.001},
	}
	for _, tilt := range []float64{-0.35, 0, 0.35} {
		r := turned([9]float64{1, 0, 0, 0, 1, 0, 0, 0, 1}, Vec{0.05, -tilt, 0})
		// The camera looks at the origin from 350 mm: its position is minus the forward axis times that.
		s.Views = append(s.Views, View{Width: 2016, Height: 1512, Rotation: r,
			Position: Vec{-350 * r[6], -350 * r[7], -350 * r[8]},
			Camera: Camera{Lens: "one", Focal: 1500, FocalU: 0.04, FocalOwnU: 0.01, K1U: 0.01, K2U: 0.005,
				PrincipalU: 0.02}})
	}
	var truth []Vec
	for range 150 {
		x := Vec{200 * (random.Float64() - 0.5), 130 * (random.Float64() - 0.5), 0}
		x[2] = 12 * math.Exp(-(x[0]*x[0]+x[1]*x[1])/2000)
		truth = append(truth, x)
	}
	for _, cx := range []float64{-120, -60, 0, 60, 120} {
		for _, cy := range []float64{-85, 85} {
			s.Controls = append(s.Controls, Control{cx, cy}, Control{cx + 20, cy})
		}
	}
	show := func(view int, x Vec) Pixel {
		v := s.Views[view]
		px, ok := v.project(pose{v.Rotation, v.Position}, lens{1470, 0.004, 0, 0.005, -0.003}, x, nil)
		if !ok {
			panic("a made point lies behind its camera")
		}
		return Pixel{px[0] + noise*random.NormFloat64(), px[1] + noise*random.NormFloat64()}
	}
	for v := range s.Views {
		for i, c := range s.Controls {
			s.ControlSeen = append(s.ControlSeen, Seen{v, i, show(v, Vec{c.X, c.Y, 0.3 * math.Sin(c.X/50)}), noise})
		}
		for i, x := range truth {
			s.TieSeen = append(s.TieSeen, Seen{v, i, show(v, x), noise})
		}
	}
	for _, x := range truth {
		s.Ties = append(s.Ties, Vec{x[0] + random.NormFloat64(), x[1] + random.NormFloat64(), 5})
	}
	for v := range s.Views {
		s.Views[v].Position[0] += 2
		s.Views[v].Position[2] -= 3
	}
	return s, truth
}

func TestAdjustStatesHowFarItIsOff(t *testing.T) {
	random := rand.New(rand.NewPCG(3, 4))
	var chi float64
	n := 0
	for range 5 {
		s, truth := madeScene(random, 0.1)
		a, err := Adjust(s)
		require.NoError(t, err)
		// What the spacing needs: the distance of two points, by their covariance.
		for k := 0; k+1 < len(truth); k += 2 {
			for c := range 3 {
				u := math.Sqrt(a.Covariance(k)[c][c])
				e := a.Ties[k][c] - truth[k][c]
				chi += e * e / (u * u)
				n++
			}
		}
	}
	ratio := chi / float64(n)
	t.Logf("normalised mean square %.2f over %d coordinates", ratio, n)
	// The points of a scene err together by their cameras, five scenes in all: between a third and three covers
	// an honest covariance (chi-square with some ten degrees of freedom, 99.9 %).
	assert.Less(t, ratio, 3.0)
	assert.Greater(t, ratio, 0.33)
}

func TestAdjustCutsWhatTheOthersContradict(t *testing.T) {
	random := rand.New(rand.NewPCG(5, 6))
	s, truth := madeScene(random, 0.1)
	s.TieSeen[7].At[0] += 8
	s.ControlSeen[3].At[1] += 6
	a, err := Adjust(s)
	require.NoError(t, err)
	assert.Zero(t, a.TieWeights[7])
	assert.Less(t, a.ControlWeights[3], 0.05)
	assert.InDelta(t, truth[9][0], a.Ties[9][0], 0.3)
}

func TestAdjustRefusesWhatHoldsNothing(t *testing.T) {
	s, _ := madeScene(rand.New(rand.NewPCG(7, 8)), 0.1)
	few := *s
	few.ControlSeen = s.ControlSeen[:5]
	_, err := Adjust(&few)
	require.ErrorIs(t, err, ErrTooLittle)
	bad := *s
	bad.Frame.BowU = 0
	_, err = Adjust(&bad)
	require.ErrorContains(t, err, "positive numbers")
	bad = *s
	bad.TieSeen = append([]Seen(nil), s.TieSeen...)
	bad.TieSeen[0].At[0] = math.NaN()
	_, err = Adjust(&bad)
	require.Error(t, err)
}

func TestRaysMeetWhereThePointIs(t *testing.T) {
	s, truth := madeScene(rand.New(rand.NewPCG(9, 10)), 0.05)
	a, err := Adjust(s)
	require.NoError(t, err)
	var rays []Ray
	for v := range s.Views {
		px, ok := a.Show(s, v, truth[0])
		require.True(t, ok)
		r, ok := a.Ray(s, v, px)
		require.True(t, ok)
		rays = append(rays, r)
	}
	x, miss, ok := Meet(rays)
	require.True(t, ok)
	assert.Less(t, miss, 1e-6)
	for c := range 3 {
		assert.InDelta(t, truth[0][c], x[c], 1e-5)
	}
	_, _, ok = Meet([]Ray{rays[0], rays[0]})
	assert.False(t, ok, "rays that run alike meet nowhere")
}

// The frame is flat and seen from near above, so that focal lengths and distances are hardly told apart: from
// wherever it begins, the search must come to the end of that valley.
func TestAdjustEndsAtOnePlaceWhereverItBegins(t *testing.T) {
	ends := make([]*Adjusted, 2)
	for k, farther := range []float64{0.94, 1.06} {
		s, _ := madeScene(rand.New(rand.NewPCG(7, 8)), 0.1)
		for v := range s.Views {
			s.Views[v].Camera.FocalU, s.Views[v].Camera.FocalOwnU = 0.1, 0.03
			for c := range 3 {
				s.Views[v].Position[c] *= farther
			}
		}
		var err error
		ends[k], err = Adjust(s)
		require.NoError(t, err)
	}
	for v, l := range ends[0].Lenses {
		assert.InDelta(t, l.Focal, ends[1].Lenses[v].Focal, 0.02*l.FocalU, "photo %d", v)
	}
}
