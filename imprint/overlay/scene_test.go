package overlay

import (
	"fmt"
	"image"
	"image/color"
	"math"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// even is a picture of one colour.
func even(w, h int, c color.NRGBA) *image.NRGBA {
	img := image.NewNRGBA(image.Rect(0, 0, w, h))
	for y := range h {
		for x := range w {
			img.SetNRGBA(x, y, c)
		}
	}
	return img
}

// speckled is a picture whose every pixel differs from its neighbours.
func speckled(w, h int) *image.NRGBA {
	img := image.NewNRGBA(image.Rect(0, 0, w, h))
	for y := range h {
		for x := range w {
			img.SetNRGBA(x, y, color.NRGBA{uint8(37*x + 11*y), uint8(90 + 5*x + 29*y), uint8(17*x ^ 13*y), 255})
		}
	}
	return img
}

// bench is a scene of 1200 x 900 px at 4 px/mm: the plane's origin in the
// middle of the picture, both centres on row 450, 120 mm apart.
func bench(photo *image.NRGBA) Scene {
	return Scene{
		Photo: photo, Scale: 1,
		Plane:  func(mm [2]float64) [2]float64 { return [2]float64{600 + 4*mm[0], 450 + 4*mm[1]} },
		Window: [2]float64{212, 140},
		Left: &Centre{Px: [2]float64{360, 450}, PlaneMM: [2]float64{-60, 0}, Semi: [2]float64{8, 4},
			Label: "left, 14 mm deep"},
		Right: &Centre{Px: [2]float64{840, 450}, PlaneMM: [2]float64{60, 0}, Semi: [2]float64{8, 4},
			DirectionDeg: 90, Label: "right, 12 mm deep"},
		Marks: [][4][2]float64{
			{{100, 100}, {180, 100}, {180, 180}, {100, 180}},
			{{1020, 100}, {1100, 100}, {1100, 180}, {1020, 180}},
		},
		MarkIDs:  []int{0, 4},
		Spacing:  "120.0 ± 1.2 mm",
		Rejected: []Rejected{{[2]float64{600, 800}, "third dent of like depth"}},
		Status:   Measured, Words: words,
		Headline: []string{"120.0 ± 1.2 mm", "foam"},
		Footer:   []string{"largest influence: depth of the dents"},
	}
}

func TestSceneRefusesWhatCannotBeDrawn(t *testing.T) {
	nan, inf := math.NaN(), math.Inf(1)
	cases := []struct {
		name   string
		change func(*Scene)
		says   string
	}{
		{"no photo", func(s *Scene) { s.Photo = nil }, "no photo"},
		{"empty photo", func(s *Scene) { s.Photo = image.NewNRGBA(image.Rectangle{}) }, "no photo"},
		{"no scale", func(s *Scene) { s.Scale = 0 }, "scale 0"},
		{"scale NaN", func(s *Scene) { s.Scale = nan }, "scale NaN"},
		{"scale Inf", func(s *Scene) { s.Scale = inf }, "scale +Inf"},
		{"mark NaN", func(s *Scene) { s.Marks[1][2][1] = nan }, "mark 2 of the list at (1100, NaN)"},
		{"mark numbers", func(s *Scene) { s.MarkIDs = []int{1} }, "2 marks with 1 numbers"},
		{"left NaN", func(s *Scene) { s.Left.Px[0] = nan }, "left centre at (NaN, 450)"},
		{"right on the plane", func(s *Scene) { s.Right.PlaneMM[1] = inf }, "right centre on the plane"},
		{"ellipse", func(s *Scene) { s.Left.Semi[1] = nan }, "left centre's ellipse"},
		{"direction", func(s *Scene) { s.Left.DirectionDeg = nan }, "left centre's direction"},
		{"rejected", func(s *Scene) { s.Rejected[0].Px[0] = -inf }, "rejected place 1"},
		{"far off", func(s *Scene) { s.Rejected[0].Px[0] = 1e7 }, "rejected place 1"},
		{"window", func(s *Scene) { s.Window[0] = nan }, "window at (NaN, 140)"},
		{"plane", func(s *Scene) { s.Plane = func([2]float64) [2]float64 { return [2]float64{nan, 0} } },
			"image of the window"},
		{"status", func(s *Scene) { s.Status = "great" }, `unknown status "great"`},
		{"status without a word", func(s *Scene) { s.Words.Status = "" }, "status measured without a word"},
	}
	for _, c := range cases {
		t.Run(c.name, func(t *testing.T) {
			s := bench(even(1200, 900, light))
			c.change(&s)
			img, err := Draw(s, 1200)
			require.ErrorContains(t, err, c.says)
			assert.Nil(t, img)
			assert.NotContains(t, err.Error(), "\n")
		})
	}
	_, err := Draw(bench(even(1200, 900, light)), 0)
	assert.ErrorContains(t, err, "longer side of 0 px")
}

// What the plane cannot show beyond its horizon is left out; what must be
// there is not.
func TestPlaneMayEndBeyondTheWindow(t *testing.T) {
	s := bench(even(1200, 900, light))
	flat := s.Plane
	s.Plane = func(mm [2]float64) [2]float64 {
		if math.Abs(mm[0]) > 107 {
			return [2]float64{math.NaN(), math.Inf(1)}
		}
		return flat(mm)
	}
	s.Left.Semi = [2]float64{70, 10} // reaches x = -130 mm
	img, err := Draw(s, 1200)
	require.NoError(t, err)
	assert.Equal(t, amber, img.NRGBAAt(360, 450+40), "the ellipse's near side is drawn")
}

// words are a scene's in English.
var words = Words{
	Status: "measured", Deepest: "deepest point", Region: "95 % region", Marks: "2 marks found",
	Grid: "grid 10 and 50 mm", LeftOut: "left out", Loupe: "Enlarged.",
	More: func(n int) string { return fmt.Sprintf("… and %d more", n) },
}
