package overlay

import (
	"image"
	"image/color"
	"math"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// madeDepth is a made imprint: two dents in a basin, mm below the frame.
func madeDepth(x, y float64) float64 {
	dent := func(cx, cy, deep, wide float64) float64 {
		return deep * math.Exp(-((x-cx)*(x-cx)+1.0/1.5*(y-cy)*(y-cy))/(2*wide*wide))
	}
	return 0.6 + dent(0, 0, 3.2, 60) + dent(-60, -3, 8.4, 19) + dent(60, 2, 9.6, 17)
}

// madeShow is a camera 380 mm above the frame that leans to the right: what is
// deep is shown nearer to the place under it.
func madeShow(width, height int) func(mm [3]float64) [2]float64 {
	const above, aside = 380.0, 30.0
	k := float64(width) / 290
	return func(mm [3]float64) [2]float64 {
		gain := above / (above + mm[2])
		return [2]float64{float64(width)/2 + k*(aside+(mm[0]-aside)*gain), float64(height)/2 + k*mm[1]*gain}
	}
}

func madeRelief(width, height int) *Relief {
	r := &Relief{
		Step:    2,
		Columns: 107,
		Rows:    69,
		Deepest: [2][2]float64{{-58.6, -2.9}, {58.8, 1.9}},
		Show:    madeShow(width, height),
	}
	surface := 0.6
	r.Surface = &surface
	for j := range r.Rows {
		for i := range r.Columns {
			x, y := 2*float64(i-53), 2*float64(j-34)
			edge := math.Max(0, math.Abs(x)-90)/16 + math.Max(0, math.Abs(y)-55)/13
			r.Z = append(r.Z, madeDepth(x, y))
			r.U = append(r.U, 0.06+0.3*edge*edge)
		}
	}
	return r
}

// madePhoto is the imprint under a lamp from the left, with dots on it.
func madePhoto(width, height int) *image.NRGBA {
	img := image.NewNRGBA(image.Rect(0, 0, width, height))
	k := float64(width) / 290
	for py := range height {
		for px := range width {
			x, y := (float64(px)-float64(width)/2)/k, (float64(py)-float64(height)/2)/k
			across := madeDepth(x+0.5, y) - madeDepth(x-0.5, y)
			slope := across - 0.4*(madeDepth(x, y+0.5)-madeDepth(x, y-0.5))
			bright := 120 + 70*slope
			gx, gy := math.Round(x/9), math.Round(y/9)
			dx, dy := x-9*gx-2*math.Sin(7*gx+3*gy), y-9*gy-2*math.Cos(5*gx-4*gy)
			switch {
			case math.Abs(x) > 108 || math.Abs(y) > 71:
				bright = 235 // the frame
			case dx*dx+dy*dy < 1.5:
				bright = 30
			}
			v := uint8(math.Max(0, math.Min(255, bright)))
			img.SetNRGBA(px, py, color.NRGBA{v, v, uint8(0.9 * float64(v)), 255})
		}
	}
	return img
}

// reliefScene is a made imprint as measured.
func reliefScene(width, height int) Scene {
	r := madeRelief(width, height)
	seen := func(i int, label string) *Centre {
		at := r.Deepest[i]
		px := r.Show([3]float64{at[0], at[1], madeDepth(at[0], at[1])})
		k := float64(width) / 290
		return &Centre{
			Px:      px,
			PlaneMM: [2]float64{(px[0] - float64(width)/2) / k, (px[1] - float64(height)/2) / k},
			Semi:    [2]float64{1.2, 0.9},
			Label:   label,
		}
	}
	return Scene{
		Photo: madePhoto(width, height), Scale: 1, Relief: r,
		Plane:  func(mm [2]float64) [2]float64 { return r.Show([3]float64{mm[0], mm[1], 0}) },
		Window: [2]float64{212, 140}, Left: seen(0, "left, 11 mm deep"), Right: seen(1, "right, 12 mm deep"),
		Spacing: "117.5 ± 0.5 mm", Status: Measured, Words: words, Headline: []string{"117.5 ± 0.5 mm"},
	}
}

// cone is a relief that is a cone of 0.25 mm/mm about the origin, 10 mm deep.
func cone() *Relief {
	r := &Relief{Step: 2, Columns: 107, Rows: 69, Deepest: [2][2]float64{{-60, 0}, {60, 0}}}
	r.Show = func(mm [3]float64) [2]float64 { return [2]float64{600 + 4*mm[0], 450 + 4*mm[1]} }
	for j := range r.Rows {
		for i := range r.Columns {
			r.Z = append(r.Z, 10-0.25*math.Hypot(2*float64(i-53), 2*float64(j-34)))
		}
	}
	return r
}

// A cone's line of 5 mm is a circle of 20 mm, 80 px; it has a dark casing, is
// stronger than the one of 6 mm, and nothing lies between them.
func TestContoursLieWhereTheDepthIs(t *testing.T) {
	for _, ground := range []color.NRGBA{light, dark} {
		s := Scene{Photo: even(1200, 900, ground), Scale: 1, Relief: cone()}
		s.Relief.Deepest[1] = s.Relief.Deepest[0] // no section
		img := drawn(t, s, 1200)
		along := func(degrees, r float64) color.NRGBA {
			sin, cos := math.Sincos(degrees * math.Pi / 180)
			return img.NRGBAAt(int(math.Round(600+r*cos)), int(math.Round(450+r*sin)))
		}
		for _, degrees := range []float64{20, 70, 110, 160, 200} {
			strong, fine := along(degrees, 80), along(degrees, 64)
			assert.InDelta(t, brightness(mint), brightness(strong), 20, "5 mm at %v on %v", degrees, ground)
			assert.Greater(t, math.Abs(brightness(fine)-brightness(ground)), 15.0, "6 mm at %v on %v",
				degrees, ground)
			assert.Equal(t, ground, along(degrees, 72), "between at %v", degrees)
			assert.LessOrEqual(t, brightness(along(degrees, 82.5)), brightness(ground), "casing at %v",
				degrees)
		}
	}
}

// The section of a cone falls by as many pixels as its slope and the stated
// exaggeration say, and both points stand as far apart, for the section's
// length, as they are. By hand: 212 mm on some 1040 px is 4.9 px/mm, and a fifth
// of the room 227 px. Twice 26.5 mm are more, and three times 13.3 mm are less.
func TestTheSectionIsToScale(t *testing.T) {
	for _, c := range []struct{ slope, times float64 }{{0.25, 1}, {0.125, 3}} {
		s := Scene{Photo: even(1200, 900, dark), Scale: 1, Relief: cone()}
		for i := range s.Relief.Z {
			s.Relief.Z[i] *= c.slope / 0.25
		}
		v := &view{scene: &s, photo: s.Photo.Rect, scale: 1, unit: 3, em: 40}
		blocks := v.section(32, 1136)
		require.NotEmpty(t, blocks)
		v.canvas = newCanvas(1200, int(blocks[0].height), dark)
		blocks[0].draw(0)
		curve := map[int]int{} // the upper edge by column
		left, right := 1200, 0
		for x := range 1200 {
			for y := range v.img.Rect.Dy() {
				if v.img.NRGBAAt(x, y) == mint {
					curve[x] = y
					left, right = min(left, x), max(right, x)
					break
				}
			}
		}
		scale := float64(right-left) / 212 // px/mm along: the grid is 212 mm wide
		middle := (left + right) / 2
		fall := float64(curve[middle+int(30*scale)] - curve[middle+int(50*scale)])
		assert.InDelta(t, 20*c.slope*scale*c.times, fall, 2, "over 20 mm")
		for _, at := range []float64{-60, 60} {
			assert.True(t, stem(v.img, middle+int(math.Round(at*scale))), "at %v mm", at)
			assert.False(t, stem(v.img, middle+int(math.Round(0.95*at*scale))), "beside %v mm", at)
		}
	}
}

// stem tells whether amber goes down about a column.
func stem(img *image.NRGBA, x int) bool {
	n := 0
	for y := range img.Rect.Dy() {
		for d := -1; d <= 1; d++ {
			if p := img.NRGBAAt(x+d, y); int(p.R) > int(p.B)+60 {
				n++
				break
			}
		}
	}
	return n > 50
}

// The section lies as the photo does: turned by half a turn, the rider's left
// is to the right.
func TestTheSectionTurnsWithThePhoto(t *testing.T) {
	s := Scene{Photo: even(1200, 900, dark), Scale: 1, Relief: cone()}
	v := &view{scene: &s}
	assert.False(t, v.swapped())
	show := s.Relief.Show
	s.Relief.Show = func(mm [3]float64) [2]float64 {
		p := show(mm)
		return [2]float64{1199 - p[0], 899 - p[1]}
	}
	assert.True(t, v.swapped())
}

// Within 12 mm of a bottom no label's plate lies.
func TestNoContourLabelOnABottom(t *testing.T) {
	s := reliefScene(1200, 900)
	s.Photo = even(1200, 900, light)
	s.Left.Label, s.Right.Label, s.Spacing = "", "", ""
	img := drawn(t, s, 1200)
	plate := newCanvas(1, 1, light)
	plate.panel(box{-1, -1, 2, 2}, 0)
	plate.ink(faded(dark, 0.82))
	ground := plate.img.NRGBAAt(0, 0)
	require.Positive(t, count(img, ground), "there are labels")
	for _, c := range []*Centre{s.Left, s.Right} {
		r := int(bareRadius * 1200 / 290)
		for y := -r; y <= r; y++ {
			for x := -r; x <= r; x++ {
				if x*x+y*y < (r-3)*(r-3) {
					at := image.Pt(int(c.Px[0])+x, int(c.Px[1])+y)
					// Single pixels where casings cross may be as dark by chance.
					require.False(t, img.NRGBAAt(at.X, at.Y) == ground && img.NRGBAAt(at.X+2, at.Y+2) == ground, "%v", at)
				}
			}
		}
	}
}

func TestReliefsThatCannotBeDrawn(t *testing.T) {
	nan := math.NaN()
	cases := []struct {
		says   string
		change func(*Relief)
	}{
		{"a grid's step is 0 mm", func(r *Relief) { r.Step = 0 }},
		{"has 7382 values, needed: 7383", func(r *Relief) { r.Z = r.Z[1:] }},
		{"1 uncertainties of 7383 depths", func(r *Relief) { r.U = []float64{1} }},
		{"nothing says where the photo shows it", func(r *Relief) { r.Show = nil }},
		{"depths from", func(r *Relief) { r.Z[7] = 1e5 }},
		{"the pad's surface at NaN mm", func(r *Relief) { r.Surface = &nan }},
		{"relief's left deepest point at (NaN, 0)", func(r *Relief) { r.Deepest[0][0] = nan }},
	}
	for _, c := range cases {
		s := Scene{Photo: even(120, 90, dark), Scale: 1, Relief: cone()}
		c.change(s.Relief)
		_, err := Draw(s, 120)
		assert.ErrorContains(t, err, c.says)
	}
	// What is unknown in part is drawn in part.
	s := reliefScene(600, 450)
	show := s.Relief.Show
	s.Plane, s.Relief.Z[3500], s.Relief.U[100] = nil, nan, nan
	s.Relief.Show = func(mm [3]float64) [2]float64 {
		if mm[0] > 90 {
			return [2]float64{nan, nan}
		}
		return show(mm)
	}
	assert.Positive(t, count(drawn(t, s, 600), mint))
}

// A section's numbers are in the language asked for.
func TestTheSectionsNumbers(t *testing.T) {
	assert.Equal(t, "−3.1", Words{}.number(-3.14, 1))
	comma := Words{Number: func(mm float64, decimals int) string { return "12,0" }}
	assert.Equal(t, "12,0", comma.number(12, 1))
}

func BenchmarkDrawRelief(b *testing.B) {
	s := reliefScene(1600, 1200)
	for b.Loop() {
		drawn(b, s, 1600)
	}
}

// A contour's label gives way to other labels and to the bottoms.
func TestAContourLabelGivesWay(t *testing.T) {
	s := reliefScene(1200, 900)
	img := fitted(s.Photo, 1200)
	v := &view{canvas: newCanvas(1200, 900, dark), scene: &s, clean: img, photo: img.Rect, scale: 1, unit: 3,
		em: 40}
	b := newBoard(v)
	b.plates = append(b.plates, box{100, 100, 200, 140})
	l := label{"5 mm", b.tiny, mint}
	free := point{600, 800}
	left := b.bare(l, []point{{150, 120}, v.at(s.Left.Px), free, {-50, 20}})
	assert.Equal(t, []point{free}, left)
}
