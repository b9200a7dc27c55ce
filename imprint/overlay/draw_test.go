package overlay

import (
	"image"
	"image/color"
	"math"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

func drawn(t testing.TB, s Scene, maxSide int) *image.NRGBA {
	t.Helper()
	img, err := Draw(s, maxSide)
	require.NoError(t, err)
	return img
}

func TestLineAndCrossesLieWhereTheCentresAre(t *testing.T) {
	for _, ground := range []color.NRGBA{light, dark, {0x80, 0x90, 0x60, 0xff}} {
		img := drawn(t, bench(even(1200, 900, ground)), 1200)
		for _, at := range []image.Point{
			{360, 450}, {840, 450}, // the centres themselves
			{500, 450}, {600, 450}, {700, 450}, // the line between them
			{360, 450 - 20}, {360, 450 + 20}, {840, 450 - 20}, // arms up and down
			{360 - 20, 450}, {840 + 20, 450}, // arms outward
			{360 - 32, 450}, {360, 450 + 16}, // the left ellipse's vertices: 8 and 4 mm, 4 px/mm
			{840 - 16, 450}, {840, 450 + 32}, // the right one's, turned by 90 degrees
		} {
			assert.Equal(t, amber, img.NRGBAAt(at.X, at.Y), "%v on %v", at, ground)
		}
		// The casing is never lighter than the ground, and parts from the core
		// by 3:1 at least (WCAG 2.1, success criterion 1.4.11, for figures).
		casing := img.NRGBAAt(700, 450+2)
		assert.LessOrEqual(t, luminance(casing), luminance(ground), "casing on %v", ground)
		assert.GreaterOrEqual(t, (luminance(amber)+0.05)/(luminance(casing)+0.05), 3.0, "casing on %v", ground)
	}
}

// luminance is a colour's relative luminance (WCAG 2.1, "relative luminance").
func luminance(c color.NRGBA) float64 {
	linear := func(v uint8) float64 {
		s := float64(v) / 255
		if s <= 0.03928 {
			return s / 12.92
		}
		return math.Pow((s+0.055)/1.055, 2.4)
	}
	return 0.2126*linear(c.R) + 0.7152*linear(c.G) + 0.0722*linear(c.B)
}

// brightness is a colour's luma, 0 to 255.
func brightness(c color.NRGBA) float64 { return float64(luma([]uint8{c.R, c.G, c.B})) }

// The line is thin: five px off it the photo is itself again.
func TestLineIsThin(t *testing.T) {
	s := bench(even(1200, 900, light))
	s.Spacing, s.Window = "", [2]float64{}
	img := drawn(t, s, 1200)
	for x := 420; x < 780; x++ {
		for _, y := range []int{445, 455} {
			require.Equal(t, light, img.NRGBAAt(x, y), "(%d, %d)", x, y)
		}
	}
}

// Off the drawing the photo's pixels are unchanged: outside the window nothing
// but marks and rejected places, inside it the cells between the grid's lines.
func TestPhotoIsUnchangedElsewhere(t *testing.T) {
	photo := speckled(1200, 900)
	before := append([]uint8(nil), photo.Pix...)
	s := bench(photo)
	img := drawn(t, s, 1200)
	assert.Equal(t, before, photo.Pix, "the scene's own photo")
	regions := map[string]image.Rectangle{
		"left edge":     image.Rect(0, 0, 95, 900),
		"top edge":      image.Rect(0, 0, 1200, 95),
		"lower corner":  image.Rect(700, 760, 1200, 900),
		"a grid's cell": image.Rect(600+4*30+4, 450+4*50+4, 600+4*40-3, 450+4*60-3),
	}
	for name, r := range regions {
		for y := r.Min.Y; y < r.Max.Y; y++ {
			for x := r.Min.X; x < r.Max.X; x++ {
				require.Equal(t, photo.NRGBAAt(x, y), img.NRGBAAt(x, y), "%s (%d, %d)", name, x, y)
			}
		}
	}
}

// Nothing solid lies on a dent: within 12 mm of a centre only the thin figure
// is drawn, never a plate.
func TestNoPlateOnADent(t *testing.T) {
	s := bench(even(1200, 900, light))
	s.Window = [2]float64{}
	s.Left.Semi, s.Right.Semi = [2]float64{}, [2]float64{}
	img := drawn(t, s, 1200)
	for _, c := range []*Centre{s.Left, s.Right} {
		for y := -48; y <= 48; y++ {
			for x := -48; x <= 48; x++ {
				if math.Abs(float64(x)) > 5 && math.Abs(float64(y)) > 5 && x*x+y*y <= 48*48 {
					require.Equal(t, light, img.NRGBAAt(int(c.Px[0])+x, int(c.Px[1])+y), "%v + (%d, %d)", c.Px, x, y)
				}
			}
		}
	}
}

func TestGridShowsOnLightAndDark(t *testing.T) {
	for _, ground := range []color.NRGBA{light, dark} {
		s := bench(even(1200, 900, ground))
		s.Spacing = ""
		img := drawn(t, s, 1200)
		differs := func(x, y int) float64 {
			most := 0.0
			for d := -3; d <= 3; d++ {
				p := img.NRGBAAt(x+d, y)
				most = math.Max(most, math.Abs(brightness(p)-brightness(ground)))
			}
			return most
		}
		fine, strong := differs(600+4*40, 450-4*55), differs(600+4*50, 450-4*55)
		assert.Greater(t, fine, 20.0, "fine line on %v", ground)
		assert.Greater(t, strong, fine, "strong line on %v", ground)
		assert.Equal(t, ground, img.NRGBAAt(600+4*45, 450-4*55), "between the lines")
		assert.Zero(t, differs(600+4*110, 450-4*55), "beyond the window")
	}
}

func TestMarksAreOutlined(t *testing.T) {
	img := drawn(t, bench(even(1200, 900, light)), 1200)
	for _, at := range []image.Point{{140, 100}, {180, 140}, {140, 180}, {100, 140}, {1060, 100}} {
		assert.Equal(t, sky, img.NRGBAAt(at.X, at.Y), "%v", at)
	}
}

func TestRejectedPlacesAreRinged(t *testing.T) {
	s := bench(even(1200, 900, light))
	img := drawn(t, s, 1200)
	r := 6 * 3 // px: 6 units of a 400th of 1200 px
	for _, at := range []image.Point{{600 - r, 800}, {600 + r, 800}, {600, 800 + r}, {600, 800}} {
		assert.Equal(t, coral, img.NRGBAAt(at.X, at.Y), "%v", at)
	}
}

// A reduced photo: the original's pixel (x, y) lies at ((x+0.5) Scale - 0.5,
// ...), and maxSide reduces once more. A line at y = 449.5 comes to lie between
// two rows at half the size and on a row at a quarter of it, so that the rows
// to either side are alike.
func TestScalesCompose(t *testing.T) {
	s := bench(even(600, 450, light)) // half of the 1200 x 900 that the coordinates are of
	s.Scale, s.Window, s.Spacing = 0.5, [2]float64{}, ""
	s.Left.Px[1], s.Right.Px[1] = 449.5, 449.5
	for _, c := range []struct {
		maxSide, x, above, below int
	}{
		{5000, 300, 224, 225}, {5000, 300, 223, 226},
		{600, 300, 224, 225}, {600, 300, 223, 226},
		{300, 150, 112, 112}, {300, 150, 111, 113},
	} {
		img := drawn(t, s, c.maxSide)
		assert.Equal(t, img.NRGBAAt(c.x, c.above), img.NRGBAAt(c.x, c.below), "%+v", c)
		assert.NotEqual(t, light, img.NRGBAAt(c.x, c.below), "%+v", c)
	}
}

func TestSizes(t *testing.T) {
	cases := []struct{ w, h, maxSide, width, photoHeight int }{
		{1200, 900, 1600, 1200, 900}, // never enlarged
		{1200, 900, 1200, 1200, 900},
		{1200, 900, 600, 600, 450},
		{900, 1200, 600, narrowest, 600}, // the photo is 450 px wide
		{100, 3000, 3000, 1200, 3000},    // slim: 0.4 of its height
		{3000, 1, 1600, 1600, 1},
		{32, 32, 1600, narrowest, 32},
		{1, 1, 1600, narrowest, 1},
	}
	for _, c := range cases {
		s := bench(even(c.w, c.h, color.NRGBA{40, 90, 60, 255}))
		img := drawn(t, s, c.maxSide)
		assert.Equal(t, image.Point{}, img.Rect.Min)
		assert.Equal(t, c.width, img.Rect.Dx(), "%+v", c)
		assert.Greater(t, img.Rect.Dy(), c.photoHeight, "%+v: the strip lies under the photo", c)
		assert.True(t, img.Opaque(), "%+v", c)
	}
	// Nothing to say: no strip.
	bare := drawn(t, Scene{Photo: speckled(600, 300), Scale: 1}, 600)
	assert.Equal(t, image.Rect(0, 0, 600, 300), bare.Rect)
	assert.Equal(t, speckled(600, 300).Pix, bare.Pix)
}

// A part of a larger picture, with a corner that is not (0, 0), transparent.
func TestSubImage(t *testing.T) {
	whole := speckled(700, 400)
	for i := 3; i < len(whole.Pix); i += 4 {
		whole.Pix[i] = 7
	}
	part := whole.SubImage(image.Rect(50, 60, 650, 360)).(*image.NRGBA)
	img := drawn(t, Scene{Photo: part, Scale: 1}, 600)
	assert.Equal(t, image.Rect(0, 0, 600, 300), img.Rect)
	p := whole.NRGBAAt(50+10, 60+20)
	p.A = 255
	assert.Equal(t, p, img.NRGBAAt(10, 20))
}

// Without a frame there is the photo, the status and the reason.
func TestRefusedWithoutFrame(t *testing.T) {
	s := Scene{Photo: speckled(1200, 900), Scale: 1, Status: Refused, Words: Words{Status: "refused"},
		Headline: []string{
			"No control frame was found.",
			"Needed: four of its marks. Photograph the whole frame, from straight above.",
		}}
	img := drawn(t, s, 1200)
	assert.Equal(t, s.Photo.Pix, img.Pix[:len(s.Photo.Pix)], "the photo is bare")
	assert.Equal(t, []int{1, 1}, []int{min(1, count(img, coral)), min(1, count(img, light))}, "a chip and words")
	german := s
	german.Words.Status = "abgelehnt"
	assert.NotEqual(t, img.Pix, drawn(t, german, 1200).Pix, "the status is in the language asked for")
}

// count is how often a colour occurs.
func count(img *image.NRGBA, c color.NRGBA) (n int) {
	for y := range img.Rect.Dy() {
		for x := range img.Rect.Dx() {
			if img.NRGBAAt(x, y) == c {
				n++
			}
		}
	}
	return n
}

// Colours part by brightness: contrast of at least 4.5 to the dark ground
// (WCAG 2.1, success criterion 1.4.3, for words).
func TestContrast(t *testing.T) {
	for _, c := range []color.NRGBA{light, faint, amber, sky, coral, mint} {
		assert.GreaterOrEqual(t, (luminance(c)+0.05)/(luminance(dark)+0.05), 4.5, "%v", c)
		assert.GreaterOrEqual(t, luminance(c), 0.35, "%v", c)
	}
	assert.LessOrEqual(t, luminance(dark), 0.01)
}

func BenchmarkDraw(b *testing.B) {
	s := bench(speckled(1600, 1200))
	for b.Loop() {
		drawn(b, s, 1600)
	}
}
