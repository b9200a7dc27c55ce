package cv

import (
	"image"
	"math"
	"math/rand/v2"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"gocv.io/x/gocv"
)

// The reference for every corner is the drawing's own camera (drawn_test.go).
var drawnScenes = []struct {
	name   string
	change func(*scene)
}{
	{"plain", func(*scene) {}},
	{"quarter turn", func(s *scene) { s.turnDeg, s.w, s.h = 90, 750, 1000 }},
	{"upside down", func(s *scene) { s.turnDeg = 180 }},
	{"turned 37 degrees", func(s *scene) { s.turnDeg, s.pxPerMM = 37, 2.5 }},
	{"tilt 20", func(s *scene) { s.tiltDeg, s.aboutDeg, s.pxPerMM = 20, 30, 2.7 }},
	{"tilt 35", func(s *scene) { s.tiltDeg, s.aboutDeg, s.pxPerMM = 35, -70, 2.6 }},
	{"tilt 50", func(s *scene) { s.tiltDeg, s.aboutDeg, s.pxPerMM = 50, 200, 2.2 }},
	{"dark table", func(s *scene) { s.table = 12 }},
	{"light table", func(s *scene) { s.table = 225 }},
	{"low contrast", func(s *scene) { s.black, s.white, s.table, s.noise = 95, 130, 110, 1.5 }},
	{"strong shadow", func(s *scene) { s.shadow = 0.3 }},
	{"blurred", func(s *scene) { s.blur = 2.5 }},
	{"noisy", func(s *scene) { s.noise = 9 }},
	{"small marks", func(s *scene) { s.pxPerMM, s.blur = 1.2, 0.6 }},
	{"ticks at the window", func(s *scene) { s.ticksAtWindow = true }},
}

func TestFindMarksFindsAllTwelve(t *testing.T) {
	for _, c := range drawnScenes {
		t.Run(c.name, func(t *testing.T) {
			s := plainScene()
			c.change(&s)
			marks, d, err := FindMarks(s.draw())
			require.NoError(t, err)
			requireMarks(t, marks, 12)
			for i, m := range marks {
				assert.Equal(t, i, m.ID)
				assert.Zero(t, m.BitsCorrected)
				assert.Greater(t, turnedArea(m.Corners), 0.0, "clockwise as printed")
			}
			assert.Zero(t, d.Unrefined)
			// Half a pixel is the error of a corner that is not refined at all;
			// the honesty of u is tested below.
			px, _ := s.cornerErrors(marks)
			assert.Less(t, rms(px), 0.5)
		})
	}
}

// The claimed uncertainty is checked against the drawing: errors over u have
// unit variance when the claim is honest. Both edges of a corner are estimated
// from about 18 degrees of freedom each, so the mean square of a 96-coordinate
// frame varies; over 8 frames its standard deviation is about
// sqrt(2/(8*48)) = 0.07 for the independent coordinates (half of 96, as two
// corners share an edge), and Student's excess raises its mean by
// 18/(18-2) = 1.13. Bounds at three standard deviations: 0.9 to 1.35, to which
// the edges' common shift, not part of u, adds (EdgeShiftU / u)^2.
func TestCornerUncertaintyIsHonest(t *testing.T) {
	var squares, n, shift float64
	for seed := range uint64(8) {
		s := plainScene()
		s.seed, s.noise, s.turnDeg, s.tiltDeg = seed+10, 6, 7+11*float64(seed), 15
		s.pxPerMM = 2.2
		marks, d, err := FindMarks(s.draw())
		require.NoError(t, err)
		requireMarks(t, marks, 12)
		_, z := s.cornerErrors(marks)
		squares, n = squares+rms(z)*rms(z)*float64(len(z)), n+float64(len(z))
		shift += math.Pow(d.EdgeShiftU/marks[0].U[0], 2) / 8
	}
	ratio := squares / n
	t.Logf("mean square of error over u: %.3f (shift's part %.3f)", ratio, shift)
	assert.Greater(t, ratio, 0.9)
	assert.Less(t, ratio, 1.35+shift)
}

// Ink that has spread moves every edge; the corners must come out as designed.
func TestEdgeShiftIsTakenOff(t *testing.T) {
	for _, spread := range []float64{-0.08, 0.05} { // mm
		s := plainScene()
		s.spread, s.turnDeg, s.pxPerMM = spread, 9, 2.7
		marks, d, err := FindMarks(s.draw())
		require.NoError(t, err)
		requireMarks(t, marks, 12)
		// The shift is white into black, ink's spread the other way. The
		// points of the drawing place an edge to 1/6 px / sqrt 12 where it runs
		// with the rows; it is turned here, so that this averages out over each
		// edge and the 48 of them.
		u := math.Hypot(d.EdgeShiftU, 1.0/6/math.Sqrt(12)/math.Sqrt(48))
		assert.InDelta(t, -spread*s.pxPerMM, d.EdgeShift, 3*u)
		outward := 0.0
		for _, m := range marks {
			// Side lengths show what is left of the shift, twice per side.
			truth := [4]Pixel{}
			for i, c := range frameCorners(m.ID) {
				truth[i] = s.pixelFromPlane(c[0], c[1])
			}
			outward += (m.Side() - meanSide(truth)) / 2 / 12
		}
		assert.InDelta(t, 0, outward, 3*u)
	}
}

// Blur in the camera must not move the corners, and must be reported.
func TestBlurIsMeasured(t *testing.T) {
	for _, sigma := range []float64{0.7, 1, 1.5} {
		s := plainScene()
		s.blur, s.turnDeg = sigma, 4
		marks, d, err := FindMarks(s.draw())
		require.NoError(t, err)
		requireMarks(t, marks, 12)
		// A box of one pixel has variance 1/12.
		assert.InEpsilon(t, math.Sqrt(sigma*sigma+1.0/12), d.Blur, 0.05, "sigma %v", sigma)
		for _, m := range marks {
			assert.InDelta(t, s.white-s.black, m.Contrast, 0.05*(s.white-s.black))
		}
	}
}

// requireMarks is require.Len without printing the marks.
func requireMarks(t *testing.T, marks []Mark, n int) {
	t.Helper()
	require.Equal(t, n, len(marks), "marks found")
}

// The reason for fitting lines: a corner refined by gradients retreats under
// blur. OpenCV's own refinement is the comparison.
func TestLinesBeatCornerSubPix(t *testing.T) {
	for _, sigma := range []float64{0.8, 1.6} {
		s := plainScene()
		s.blur, s.turnDeg = sigma, 13
		s.pxPerMM = 2.7
		img := s.draw()
		marks, _, err := FindMarks(img)
		require.NoError(t, err)
		ours, _ := s.cornerErrors(marks)
		for i := range marks {
			marks[i].Corners = subPix(t, img, marks[i])
		}
		theirs, _ := s.cornerErrors(marks)
		t.Logf("sigma %.1f px: lines %.3f px rms, CornerSubPix %.3f px rms", sigma, rms(ours), rms(theirs))
		assert.Less(t, rms(ours), rms(theirs))
	}
}

// subPix is OpenCV's refinement started from the given corners.
func subPix(t *testing.T, img *image.Gray, m Mark) (q [4]Pixel) {
	t.Helper()
	p, err := greyPlane(img)
	require.NoError(t, err)
	src, err := p.mat()
	require.NoError(t, err)
	defer src.Close()
	corners := gocv.NewMatWithSize(4, 1, gocv.MatTypeCV32FC2)
	defer corners.Close()
	v, err := corners.DataPtrFloat32()
	require.NoError(t, err)
	for i, c := range m.Corners {
		v[2*i], v[2*i+1] = float32(math.Round(c.X)), float32(math.Round(c.Y))
	}
	half := max(3, int(0.05*m.Side()))
	gocv.CornerSubPix(src.Mat, &corners, image.Pt(half, half), image.Pt(-1, -1),
		gocv.NewTermCriteria(gocv.Count+gocv.EPS, 50, 0.001))
	for i := range q {
		q[i] = Pixel{X: float64(v[2*i]), Y: float64(v[2*i+1])}
	}
	return q
}

func TestHiddenMarksAreLeftOut(t *testing.T) {
	s := plainScene()
	s.withoutMarks = func(id int) bool { return id == 3 || id == 8 }
	marks, _, err := FindMarks(s.draw())
	require.NoError(t, err)
	requireMarks(t, marks, 10)
	for _, m := range marks {
		assert.False(t, s.withoutMarks(m.ID))
	}
}

func TestNoMarksWhereThereAreNone(t *testing.T) {
	drawn := plainScene().draw()
	rng := rand.New(rand.NewPCG(3, 4))
	noise := image.NewGray(image.Rect(0, 0, 1500, 1100))
	for i := range noise.Pix {
		noise.Pix[i] = uint8(rng.IntN(256))
	}
	blank := image.NewGray(image.Rect(0, 0, 800, 600))
	for name, img := range map[string]*image.Gray{
		"mirrored": mirrored(drawn), "negative": negative(drawn), "noise": noise, "blank": blank,
		"one pixel": image.NewGray(image.Rect(0, 0, 1, 1)), "a row": image.NewGray(image.Rect(0, 0, 30000, 1)),
		"a column": image.NewGray(image.Rect(0, 0, 1, 30000)), "a strip": image.NewGray(image.Rect(0, 0, 20,
			32000)),
	} {
		marks, _, err := FindMarks(img)
		assert.NoError(t, err, name)
		assert.Empty(t, marks, name)
	}
}

func mirrored(img *image.Gray) *image.Gray {
	out := image.NewGray(img.Rect)
	for y := range img.Rect.Dy() {
		for x := range img.Rect.Dx() {
			out.Pix[y*out.Stride+x] = img.Pix[y*img.Stride+img.Rect.Dx()-1-x]
		}
	}
	return out
}

func negative(img *image.Gray) *image.Gray {
	out := image.NewGray(img.Rect)
	for i, v := range img.Pix {
		out.Pix[i] = 255 - v
	}
	return out
}

func TestUnusablePicturesGiveErrors(t *testing.T) {
	for name, img := range map[string]*image.Gray{
		"none":         nil,
		"empty":        image.NewGray(image.Rect(0, 0, 0, 0)),
		"no height":    image.NewGray(image.Rect(0, 0, 9, 0)),
		"broken":       {Pix: make([]byte, 10), Stride: 100, Rect: image.Rect(0, 0, 100, 100)},
		"short stride": {Pix: make([]byte, 10000), Stride: 10, Rect: image.Rect(0, 0, 100, 100)},
		"too wide":     {Pix: make([]byte, 40000), Stride: 40000, Rect: image.Rect(0, 0, 40000, 1)},
		"too large":    {Pix: make([]byte, 1), Stride: 30000, Rect: image.Rect(0, 0, 30000, 30000)},
	} {
		_, _, err := FindMarks(img)
		assert.Error(t, err, name)
		_, err = Sample(img, []float32{0}, []float32{0}, 1, 1)
		assert.Error(t, err, name)
	}
	_, _, err := FindMarks(nil)
	assert.ErrorIs(t, err, ErrEmptyPicture)
}

// A part of a larger picture has gaps between its rows and an origin of its
// own; positions count from its first pixel.
func TestSubImage(t *testing.T) {
	s := plainScene()
	whole := s.draw()
	wide := image.NewGray(image.Rect(0, 0, s.w+50, s.h+40))
	for y := range s.h {
		copy(wide.Pix[(y+30)*wide.Stride+20:], whole.Pix[y*whole.Stride:(y+1)*whole.Stride])
	}
	part := wide.SubImage(image.Rect(20, 30, 20+s.w, 30+s.h)).(*image.Gray)
	want, _, err := FindMarks(whole)
	require.NoError(t, err)
	got, _, err := FindMarks(part)
	require.NoError(t, err)
	assert.Equal(t, want, got)
}

func FuzzFindMarks(f *testing.F) {
	f.Add(uint8(40), uint8(30), []byte("seed"))
	f.Add(uint8(1), uint8(1), []byte{255})
	f.Add(uint8(200), uint8(14), []byte{0, 255, 0, 255, 255})
	f.Fuzz(func(t *testing.T, w, h uint8, data []byte) {
		img := image.NewGray(image.Rect(0, 0, int(w), int(h)))
		for i := range img.Pix {
			if len(data) > 0 {
				img.Pix[i] = data[(i+i/len(data))%len(data)]
			}
		}
		marks, d, err := FindMarks(img)
		if int(w)*int(h) == 0 {
			assert.ErrorIs(t, err, ErrEmptyPicture)
			return
		}
		require.NoError(t, err)
		assert.LessOrEqual(t, len(marks), 12)
		assert.False(t, math.IsNaN(d.Blur+d.EdgeShift+d.EdgeShiftU+d.Saturated))
		for _, m := range marks {
			for i, c := range m.Corners {
				assert.False(t, math.IsNaN(c.X+c.Y+m.U[i]), "%+v", m)
			}
		}
	})
}

func TestAlike(t *testing.T) {
	for _, c := range []struct {
		sides []float64
		want  int
	}{
		{nil, 0},
		{[]float64{20}, 1},
		{[]float64{33, 17, 20}, 2},
		{[]float64{100, 30, 133, 134, 110}, 3}, // 4/3 of 100 is 133.3
	} {
		if got := alike(c.sides); got != c.want {
			t.Errorf("alike(%v) = %d, want %d", c.sides, got, c.want)
		}
	}
}
