package cv

import (
	"math"
	"path/filepath"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// drawnForPhones are frames to run through a phone: large and small marks, and
// paper so light and ink so dark that halos are cut off at both ends.
var drawnForPhones = []struct {
	name   string
	change func(*scene)
}{
	{"plain", func(*scene) {}},
	{"burnt out", func(s *scene) { s.white, s.black = 235, 15 }},
	{"small marks", func(s *scene) { s.pxPerMM = 1.6 }},
}

// phoneGrid are amounts and radii of sharpening with a JPEG in turn.
func phoneGrid() (grid []phone) {
	quality := [...]int{95, 60, 75, 85}
	for _, amount := range []float64{0.5, 1, 2} {
		for _, radius := range []float64{0.7, 1.5, 2.5} {
			grid = append(grid, phone{amount: amount, radius: radius, quality: quality[len(grid)%4]})
		}
	}
	return append(grid,
		phone{denoise: 12, amount: 1.2, radius: 1.5, quality: 85},
		phone{lift: 0.4, amount: 0.8, radius: 2, quality: 75},
		phone{denoise: 12, lift: 0.4, amount: 1, radius: 1, quality: 60})
}

// wideHalo is the amount times the radius in px from which the halos of drawn
// marks lie on one another and are cut off as well. The corners' errors are then
// up to 1.7 times their u: a known limit, held here at 2.
const wideHalo = 2.5

// Sharpening neither takes marks away nor makes their corners worse than they
// say. Over a frame's 96 coordinates the mean square of error over u varies by
// 0.14 and has Student's 1.13 for its mean (TestCornerUncertaintyIsHonest):
// 1.6 at three standard deviations. An unsharpened frame of small marks, whose
// payload reaches into the profiles, goes beyond; a sharpened one may do no
// worse than the greater of both.
func TestSharpenedMarksAreMeasured(t *testing.T) {
	for _, c := range drawnForPhones {
		s := plainScene()
		s.turnDeg, s.noise = 11, 3
		c.change(&s)
		img := s.draw()
		marks, _, err := FindMarks(phone{quality: 85}.spoil(t, img))
		require.NoError(t, err)
		_, z := s.cornerErrors(marks)
		bound := math.Max(1.6, rms(z)*rms(z))
		for _, f := range phoneGrid() {
			marks, d, err := FindMarks(f.spoil(t, img))
			require.NoError(t, err)
			requireMarks(t, marks, 12)
			assert.Zero(t, d.Unrefined, "%s %v", c.name, f)
			px, z := s.cornerErrors(marks)
			t.Logf("%s %v: %.3f px, mean square over u %.2f, blur %.2f", c.name, f, rms(px), rms(z)*rms(z), d.Blur)
			if f.amount*f.radius >= wideHalo {
				assert.Less(t, rms(z), 2.0, "%s %v", c.name, f)
			} else {
				assert.Less(t, rms(z)*rms(z), bound, "%s %v", c.name, f)
			}
		}
	}
}

// An exact profile gives its shape back, cut off or not: the place to what a
// grey level's rounding moves it.
func TestHaloIsFitted(t *testing.T) {
	for _, want := range []edgeShape{
		{0.9, 0.5, math.Hypot(0.9, 1.5)}, {0.7, 2, math.Hypot(0.7, 2.5)}, {1.2, 1, math.Hypot(1.2, 2)},
	} {
		for _, levels := range [][2]float64{{60, 120}, {20, 215}, {50, 200}} {
			const half, n = 7.0, 15
			var profiles [][]float64
			places := [4]float64{-0.3, 0.1, 0, 0.4}
			for _, at := range places {
				v := make([]float64, n)
				for i := range v {
					level, _ := want.level(-half + float64(i) - at)
					v[i] = math.Round(min(255, max(0, levels[0]+levels[1]*level)))
				}
				profiles = append(profiles, v)
			}
			sides, _, ok := fitHalo(profiles, half, 1, edgeShape{})
			require.True(t, ok, "%v %v", want, levels)
			for i, m := range sides {
				// Rounding has 1/sqrt 12 levels; the edge rises by at least
				// rise/(sqrt(2 pi) sigma) a px; three times that.
				u := 1 / math.Sqrt(12) * math.Sqrt(2*math.Pi) * want.sigma / levels[1]
				if levels[1] > 190 { // cut off: a level is known to clipDark
					u = math.Hypot(u, clipDark/3/levels[1]*math.Sqrt(2*math.Pi)*want.sigma)
				}
				assert.InDelta(t, places[i], m.at, 3*u, "%v %v", want, levels)
				assert.InEpsilon(t, want.steepness(), m.steepness(), 0.05, "%v %v", want, levels)
			}
		}
	}
}

// A picture that nobody sharpened gets no halo.
func TestPlainEdgesHaveNoHalo(t *testing.T) {
	for _, p := range readTruth(t, photos) {
		plane, err := greyPlane(openGrey(t, filepath.Join(photos, p.Name)))
		require.NoError(t, err)
		marks, _, err := FindMarks(openGrey(t, filepath.Join(photos, p.Name)))
		require.NoError(t, err)
		require.NotEmpty(t, marks)
		for _, m := range marks {
			r, ok := readMark(plane, m.Corners)
			require.True(t, ok)
			found, ok := refine(plane, m.Corners, r.black, 2.5)
			require.True(t, ok)
			assert.Zero(t, found.step.halo, "%s, mark %d", p.Name, m.ID)
		}
	}
}
