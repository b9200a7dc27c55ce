package homography

import (
	"math"
	"math/rand/v2"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"gonum.org/v1/gonum/stat/distuv"
	"pgregory.net/rapid"
)

// Rounding in double precision over a picture of 2000 px and a frame of
// 250 mm: 1e-16 relative, times the condition of the system (about 1e4 for
// the lens terms), leaves 1e-9 of either unit with room to spare.
const rounding = 1e-7

func TestFitIsExactOnExactCorners(t *testing.T) {
	for name, lens := range map[string][2]float64{
		"none": {0, 0}, "barrel": {-0.03, 0}, "cushion": {0.02, 0}, "both terms": {-0.03, 0.02},
	} {
		t.Run(name, func(t *testing.T) {
			s := phone()
			s.k1, s.k2 = lens[0], lens[1]
			o := s.options()
			o.Lens = LensPrior{UK1: 10, UK2: 10} // vague: the corners alone decide
			fit := mustFit(t, s.corners(nil, 0, nil), o)
			// A vague prior of 10 still pulls by (0.02 px/1260 px/10)^2, 1e-12.
			k1, k2 := fit.Lens.InUnitsOf(s.focal)
			assert.InDelta(t, s.k1, k1, rounding)
			assert.InDelta(t, s.k2, k2, rounding)
			for _, at := range []PlanePoint{{0, 0}, {-60, 5}, {60, -20}, {100, 65}} {
				assert.InDelta(t, 0, fit.ImageFromPlane(at).Distance(s.see(at.X, at.Y, 0)), rounding*100, "px")
				seen, err := fit.PlaneFromImage(s.see(at.X, at.Y, 0))
				require.NoError(t, err)
				assert.InDelta(t, 0, seen.Distance(at), rounding*100, "mm")
			}
			assert.Empty(t, fit.Outliers)
			assert.Less(t, fit.RMSPixels, rounding*100)
			assert.Equal(t, 1.0, fit.Clustering)
		})
	}
}

func TestFitPrintsThePixelConvention(t *testing.T) {
	// A scan at 1 px/mm whose top-left pixel's centre shows (-10, -20) mm.
	var points []Correspondence
	for id, c := range markCentres {
		points = append(points, Correspondence{Pixel{c.X + 150, c.Y + 100}, c, id, 0})
	}
	fit := mustFit(t, points, ForScan(301, 201))
	at, err := fit.PlaneFromImage(Pixel{0, 0})
	require.NoError(t, err)
	assert.InDelta(t, 0, at.Distance(PlanePoint{-150, -100}), rounding)
	assert.InDelta(t, 1, fit.GroundSample(PlanePoint{}), rounding)
	assert.Equal(t, Pixel{150, 100}, fit.Lens.Principal, "the centre of 301 x 201 pixels")
}

func TestScanKeepsItsTwoScalesApart(t *testing.T) {
	// 300 x 150 dpi: 25.4/300 by 25.4/150 mm, ground sample their geometric mean.
	var points []Correspondence
	for id, c := range markCentres {
		points = append(points, Correspondence{Pixel{(c.X + 130) * 300 / 25.4, (c.Y + 90) * 150 / 25.4}, c, id, 0})
	}
	fit := mustFit(t, points, ForScan(3100, 1100))
	assert.InDelta(t, 25.4/math.Sqrt(300*150), fit.GroundSample(PlanePoint{30, 20}), rounding)
	jacobian, err := fit.PlaneJacobian(Pixel{1500, 500})
	require.NoError(t, err)
	assert.InDelta(t, 25.4/300, jacobian[0][0], rounding)
	assert.InDelta(t, 25.4/150, jacobian[1][1], rounding)
	_, err = fit.CameraFrom(Focal{1000, 10})
	require.ErrorIs(t, err, ErrNoCamera)
}

func TestLensTermIsHeldByItsPriorWhereMarksDoNotTell(t *testing.T) {
	// Four marks close together in the middle see nothing of the corners.
	s := phone()
	s.camera[2] = 1500
	all := s.corners(source(1), 0.15, nil)
	fit := mustFit(t, all, s.options())
	assert.False(t, fit.Lens.Constrained)
	assert.Greater(t, fit.Lens.UK1, 0.9*PhoneLens().UK1)
	assert.Less(t, math.Abs(fit.Lens.K1), PhoneLens().UK1)

	s.camera[2] = 300
	assert.True(t, mustFit(t, s.corners(source(1), 0.15, nil), s.options()).Lens.Constrained)
}

func TestUncorrectedLensWidensThePrior(t *testing.T) {
	s := phone()
	s.k1 = -0.12 // 8 % at the corner: eight standard uncertainties of the prior
	fit := mustFit(t, s.corners(source(1), 0.15, nil), s.options())
	assert.True(t, fit.Lens.Unusual)
	k1, _ := s.halfDiagonals()
	assert.InDelta(t, k1, fit.Lens.K1, 3*fit.Lens.UK1, "99.7 % of a Gaussian")
	assert.Empty(t, fit.Outliers)
}

func TestOutlyingMarksAreNamed(t *testing.T) {
	for name, shift := range map[string]map[int]Pixel{
		"one by 0.9 mm":               {3: {6, 0}},
		"one misread":                 {7: {-400, 250}},
		"two":                         {0: {0, -9}, 5: {12, 4}},
		"three, of which two misread": {1: {300, 0}, 6: {0, 8}, 9: {0, 500}},
	} {
		t.Run(name, func(t *testing.T) {
			s := phone()
			s.k1 = -0.02
			points := s.corners(source(4), 0.15, nil)
			var moved []int
			for i, p := range points {
				if d, ok := shift[p.Group]; ok {
					points[i].Pixel = Pixel{p.Pixel.X + d.X, p.Pixel.Y + d.Y}
				}
			}
			for id := range len(markCentres) {
				if _, ok := shift[id]; ok {
					moved = append(moved, id)
				}
			}
			fit := mustFit(t, points, s.options())
			assert.Equal(t, moved, fit.Outliers)
			for _, m := range fit.Marks {
				assert.Equal(t, shift[m.ID] == Pixel{}, m.Inlier, "mark %d", m.ID)
			}
			// What is left is the noise: 84 % of its chi-square lies well within.
			assert.InDelta(t, 0.15, fit.CornerU, 4*0.15/math.Sqrt(2*fit.DegreesOfFreedom))
		})
	}
}

func TestBentFrameKeepsItsMarks(t *testing.T) {
	// A bend is no mark's fault: nothing is dropped, and it shows.
	s := phone()
	bend := func(x, y float64) float64 { return 0.8 * math.Sin(x/40) * math.Cos(y/50) }
	fit := mustFit(t, s.corners(source(1), 0.1, bend), s.options())
	flat := mustFit(t, s.corners(source(1), 0.1, nil), s.options())
	assert.Empty(t, fit.Outliers)
	assert.Greater(t, fit.Withheld.RMS, 2*flat.Withheld.RMS)
	assert.Greater(t, fit.CornerU*fit.Clustering, 2*flat.CornerU*flat.Clustering)
	assert.Greater(t, fit.Withheld.Worst, fit.Withheld.RMS)
	assert.Equal(t, len(markCentres), fit.Withheld.Judged)
}

// TestWithheldIsThatOfARealRefit compares the closed form with fits that
// never saw the mark. They differ by the second order of the residuals.
func TestWithheldIsThatOfARealRefit(t *testing.T) {
	s := phone()
	s.k1 = -0.01
	points := s.corners(source(9), 0.2, nil)
	fit := mustFit(t, points, s.options())
	for _, m := range fit.Marks {
		var others []Correspondence
		for _, p := range points {
			if p.Group != m.ID {
				others = append(others, p)
			}
		}
		refit := mustFit(t, others, s.options())
		sum := 0.0
		for _, p := range points {
			if p.Group == m.ID {
				at, err := refit.PlaneFromImage(p.Pixel)
				require.NoError(t, err)
				sum += math.Pow(at.Distance(p.Plane), 2) / 4
			}
		}
		// The refit estimates the noise, and so the prior's weight, anew:
		// 76 degrees of freedom give it to 8 %.
		assert.InEpsilon(t, math.Sqrt(sum), m.WithheldMillimetres, 0.08, "mark %d", m.ID)
	}
}

func TestDegeneratePointsAreErrors(t *testing.T) {
	s := phone()
	all := s.corners(nil, 0, nil)
	pick := func(keep func(i int, c Correspondence) bool) []Correspondence {
		var out []Correspondence
		for i, c := range all {
			if keep(i, c) {
				out = append(out, c)
			}
		}
		return out
	}
	var line, same []Correspondence
	for i := range 12 {
		x := float64(i) * 10
		line = append(line, Correspondence{s.see(x, 2*x, 0), PlanePoint{x, 2 * x}, i, 0})
		same = append(same, Correspondence{s.see(5, 5, 0), PlanePoint{5, 5}, i, 0})
	}
	bad := append([]Correspondence(nil), all...)
	bad[7].Pixel.X = math.NaN()
	mirrored := append([]Correspondence(nil), all...)
	random := rand.New(rand.NewPCG(1, 1))
	for i := range mirrored {
		mirrored[i].Pixel = Pixel{2000 * random.Float64(), 1500 * random.Float64()}
	}
	for name, c := range map[string]struct {
		points []Correspondence
		target error
	}{
		"none":          {nil, ErrDegenerate},
		"three points":  {all[:3], ErrDegenerate},
		"one mark":      {all[:4], ErrOneMark},
		"one line":      {line, ErrDegenerate},
		"all the same":  {same, ErrDegenerate},
		"not a number":  {bad, nil},
		"four points":   {pick(func(i int, _ Correspondence) bool { return i%12 == 0 }), ErrMarksDisagree},
		"picture alone": {collapse(all), ErrDegenerate},
	} {
		t.Run(name, func(t *testing.T) {
			fit, err := Fit(c.points, s.options())
			require.Error(t, err)
			assert.Nil(t, fit)
			if c.target != nil {
				assert.ErrorIs(t, err, c.target)
			}
		})
	}
	t.Run("noise for corners", func(t *testing.T) {
		// Either an error or a fit that says how bad it is, in mm.
		if fit, err := Fit(mirrored, s.options()); err == nil {
			assert.Greater(t, fit.RMSMillimetres, 5.0)
		}
	})
	_, err := Fit(all, Options{Lens: PhoneLens()})
	assert.ErrorContains(t, err, "need its size")
}

// collapse moves all pixels to one place.
func collapse(points []Correspondence) []Correspondence {
	out := append([]Correspondence(nil), points...)
	for i := range out {
		out[i].Pixel = Pixel{100, 100}
	}
	return out
}

func TestTwoMarksWork(t *testing.T) {
	s := phone()
	all := s.corners(source(2), 0.15, nil)
	two := append(append([]Correspondence(nil), all[:4]...), all[24:28]...) // opposite corners
	fit := mustFit(t, two, s.options())
	whole := mustFit(t, all, s.options())
	few, err := fit.SpacingUncertainty(s.see(-60, 0, 0), s.see(60, 0, 0))
	require.NoError(t, err)
	many, err := whole.SpacingUncertainty(s.see(-60, 0, 0), s.see(60, 0, 0))
	require.NoError(t, err)
	assert.Greater(t, few.U, many.U, "two marks know less than twelve")
	assert.InDelta(t, 120, few.Millimetres, 3*few.U, "99.7 % of a Gaussian")
}

// TestCoverage is the Monte Carlo check of the claimed covariance: lenses from
// the prior, noise on the corners, and the error of a spacing and of a point
// in units of what was claimed. Their squares sum to a chi-square; the noise
// being estimated with about 86 degrees of freedom, each square's mean is
// 86/84 rather than 1.
func TestCoverage(t *testing.T) {
	const trials = 300
	random := source(11)
	var spacing, x, y float64
	for range trials {
		s := phone()
		s.drawLens(random)
		s.tilt, s.turn = 6*random.NormFloat64(), 6*random.NormFloat64()
		fit := mustFit(t, s.corners(random, 0.2, nil), s.options())
		got, err := fit.SpacingUncertainty(s.see(-60, 4, 0), s.see(55, -3, 0))
		require.NoError(t, err)
		spacing += math.Pow((got.Millimetres-math.Hypot(115, 7))/got.U, 2)
		at, c, err := fit.TransferCovariance(s.see(-60, 4, 0))
		require.NoError(t, err)
		x += math.Pow(at.X+60, 2) / c[0][0]
		y += math.Pow(at.Y-4, 2) / c[1][1]
	}
	chi := distuv.ChiSquared{K: trials}
	for name, sum := range map[string]float64{"spacing": spacing, "x": x, "y": y} {
		assert.Greater(t, sum, chi.Quantile(0.0005), name)
		assert.Less(t, sum, chi.Quantile(0.9995)*86/84, name)
	}
}

func TestJointCovarianceAgreesWithTheSpacing(t *testing.T) {
	s := phone()
	fit := mustFit(t, s.corners(source(3), 0.2, nil), s.options())
	l, r := s.see(-60, 10, 0), s.see(50, -5, 0)
	pl, pr, joint, err := fit.JointCovariance(l, r)
	require.NoError(t, err)
	got, err := fit.SpacingUncertainty(l, r)
	require.NoError(t, err)
	d := pl.Distance(pr)
	g := [4]float64{-(pr.X - pl.X) / d, -(pr.Y - pl.Y) / d, (pr.X - pl.X) / d, (pr.Y - pl.Y) / d}
	sum := 0.0
	for i := range g {
		for j := range g {
			sum += g[i] * joint[i][j] * g[j]
		}
	}
	assert.InEpsilon(t, got.U, math.Sqrt(sum), 1e-6)
	assert.InEpsilon(t, got.U, math.Hypot(got.Corners, got.Lens), 1e-9)
	_, alone, err := fit.TransferCovariance(l)
	require.NoError(t, err)
	assert.InEpsilon(t, alone[0][0], joint[0][0], 1e-9)
	_, err = fit.SpacingUncertainty(l, l)
	assert.Error(t, err)
}

// drawScene draws a view that keeps the frame before the camera.
func drawScene(t *rapid.T) scene {
	s := phone()
	s.tilt = rapid.Float64Range(-20, 20).Draw(t, "tilt")
	s.turn = rapid.Float64Range(-20, 20).Draw(t, "turn")
	s.yaw = rapid.Float64Range(-180, 180).Draw(t, "yaw")
	s.camera[2] = rapid.Float64Range(280, 1000).Draw(t, "height")
	s.k1 = rapid.Float64Range(-0.03, 0.02).Draw(t, "k1")
	return s
}

func TestPropertyRoundTrip(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		s := drawScene(t)
		fit, err := Fit(s.corners(source(1), 0.1, nil), s.options())
		require.NoError(t, err)
		at := PlanePoint{rapid.Float64Range(-130, 130).Draw(t, "x"), rapid.Float64Range(-95, 95).Draw(t, "y")}
		back, err := fit.PlaneFromImage(fit.ImageFromPlane(at))
		require.NoError(t, err)
		assert.InDelta(t, 0, back.Distance(at), rounding)
	})
}

func TestPropertyOrderDoesNotMatter(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		s := drawScene(t)
		points := s.corners(source(1), 0.1, nil)
		shuffled := rapid.Permutation(points).Draw(t, "order")
		a, err := Fit(points, s.options())
		require.NoError(t, err)
		b, err := Fit(shuffled, s.options())
		require.NoError(t, err)
		l, r := s.see(-60, 0, 0), s.see(60, 0, 0)
		sa, err := a.SpacingUncertainty(l, r)
		require.NoError(t, err)
		sb, err := b.SpacingUncertainty(l, r)
		require.NoError(t, err)
		// The search stops within 1e-6 standard uncertainties of the bottom.
		assert.InDelta(t, sa.Millimetres, sb.Millimetres, 1e-4*sa.U)
	})
}

func TestPropertyUnitsScale(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		s := drawScene(t)
		factor := rapid.Float64Range(0.03, 30).Draw(t, "factor")
		points := s.corners(source(1), 0.1, nil)
		scaled := append([]Correspondence(nil), points...)
		for i, p := range scaled {
			scaled[i].Plane = PlanePoint{p.Plane.X * factor, p.Plane.Y * factor}
		}
		o := s.options()
		a, err := Fit(points, o)
		require.NoError(t, err)
		o.OutlierFloor = DefaultOutlierFloor * factor
		b, err := Fit(scaled, o)
		require.NoError(t, err)
		l, r := s.see(-60, 0, 0), s.see(60, 0, 0)
		sa, err := a.SpacingUncertainty(l, r)
		require.NoError(t, err)
		sb, err := b.SpacingUncertainty(l, r)
		require.NoError(t, err)
		assert.InDelta(t, sa.Millimetres*factor, sb.Millimetres, 1e-4*sb.U)
		assert.InEpsilon(t, sa.U*factor, sb.U, 1e-4)
	})
}
