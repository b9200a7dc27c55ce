package overlay

import (
	"image"
	"math"
	"testing"

	"pgregory.net/rapid"
)

// anyNumber draws a finite number: of the size of a picture's coordinates, or
// one time in sixty of any size.
func anyNumber(t *rapid.T, name string) float64 {
	if rapid.IntRange(0, 59).Draw(t, name+" is wild") == 0 {
		return rapid.OneOf(rapid.Float64Range(-1e6, 1e6), rapid.Float64Range(-math.MaxFloat64,
			math.MaxFloat64)).Draw(t, name)
	}
	return rapid.Float64Range(-50, 300).Draw(t, name)
}

func anyPoint(t *rapid.T, name string) [2]float64 {
	return [2]float64{anyNumber(t, name+" x"), anyNumber(t, name+" y")}
}

func anyCentre(t *rapid.T, name string) *Centre {
	if !rapid.Bool().Draw(t, name) {
		return nil
	}
	return &Centre{
		Px: anyPoint(t, name+" px"), PlaneMM: anyPoint(t, name+" mm"), Semi: anyPoint(t, name+" semi"),
		DirectionDeg: anyNumber(t, name+" direction"), Label: rapid.String().Draw(t, name+" label"),
	}
}

func anyScene(t *rapid.T) Scene {
	side := rapid.IntRange(1, 90)
	s := Scene{
		Photo:  image.NewNRGBA(image.Rect(0, 0, side.Draw(t, "width"), side.Draw(t, "height"))),
		Scale:  math.Abs(anyNumber(t, "scale"))/100 + 1e-3,
		Window: anyPoint(t, "window"),
		Left:   anyCentre(t, "left"), Right: anyCentre(t, "right"),
		Spacing:  rapid.String().Draw(t, "spacing"),
		Headline: rapid.SliceOfN(rapid.String(), 0, 3).Draw(t, "headline"),
		Footer:   rapid.SliceOfN(rapid.String(), 0, 3).Draw(t, "footer"),
		Status:   rapid.SampledFrom([]string{"", Measured, Review, Refused, Failed}).Draw(t, "status"),
		Words: Words{Status: rapid.String().Draw(t, "word"), Loupe: rapid.String().Draw(t, "loupe"),
			Marks: rapid.String().Draw(t, "marks")},
	}
	if rapid.Bool().Draw(t, "plane") {
		// A homography with a horizon, which divides by zero somewhere.
		h := rapid.SliceOfN(rapid.Float64Range(-3, 3), 8, 8).Draw(t, "homography")
		s.Plane = func(mm [2]float64) [2]float64 {
			w := 1 + 0.01*(h[6]*mm[0]+h[7]*mm[1])
			return [2]float64{(h[0]*mm[0] + h[1]*mm[1] + 40*h[2]) / w, (h[3]*mm[0] + h[4]*mm[1] + 40*h[5]) / w}
		}
	}
	if rapid.Bool().Draw(t, "relief") {
		s.Relief = anyRelief(t)
	}
	for i := range rapid.IntRange(0, 3).Draw(t, "marks") {
		m := [4][2]float64{}
		for j := range m {
			m[j] = anyPoint(t, "corner")
		}
		s.Marks, s.MarkIDs = append(s.Marks, m), append(s.MarkIDs, i)
	}
	for range rapid.IntRange(0, 3).Draw(t, "rejected") {
		s.Rejected = append(s.Rejected, Rejected{anyPoint(t, "rejected"), rapid.String().Draw(t, "why")})
	}
	return s
}

// anyRelief draws a small grid with holes, seen by a camera with a horizon.
func anyRelief(t *rapid.T) *Relief {
	depth := rapid.OneOf(rapid.Float64Range(-3, 20), rapid.SampledFrom([]float64{math.NaN(), 0, 5}))
	n := rapid.IntRange(2, 6)
	r := &Relief{Step: rapid.Float64Range(0.5, 50).Draw(t, "step"), Columns: n.Draw(t, "columns"),
		Rows: n.Draw(t, "rows")}
	r.Z = rapid.SliceOfN(depth, r.Columns*r.Rows, r.Columns*r.Rows).Draw(t, "z")
	if rapid.Bool().Draw(t, "u is known") {
		r.U = rapid.SliceOfN(depth, len(r.Z), len(r.Z)).Draw(t, "u")
	}
	r.Deepest = [2][2]float64{anyPoint(t, "left bottom"), anyPoint(t, "right bottom")}
	h := rapid.SliceOfN(rapid.Float64Range(-3, 3), 4, 4).Draw(t, "view")
	r.Show = func(mm [3]float64) [2]float64 {
		w := 1 + 0.01*(h[0]*mm[0]+h[1]*mm[2])
		return [2]float64{(40 + h[2]*mm[0]) / w, (40 + h[3]*mm[1]) / w}
	}
	return r
}

// Whatever finite numbers come, Draw returns an opaque picture or an error, and
// not both.
func TestDrawNeverPanics(t *testing.T) {
	drawn, refused := 0, 0
	rapid.Check(t, func(t *rapid.T) {
		img, err := Draw(anyScene(t), rapid.IntRange(-1, 200).Draw(t, "maxSide"))
		if (img == nil) == (err == nil) {
			t.Fatalf("picture %v with error %v", img != nil, err)
		}
		if err != nil {
			refused++
			return
		}
		drawn++
		if !img.Opaque() {
			t.Fatal("not opaque")
		}
	})
	t.Logf("%d scenes drawn, %d refused", drawn, refused)
	if drawn == 0 || refused == 0 {
		t.Error("the property was not tried on both")
	}
}

// A coordinate that is no number is refused wherever it stands.
func TestNaNIsRefused(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		s := bench(image.NewNRGBA(image.Rect(0, 0, 40, 30)))
		bad := rapid.SampledFrom([]float64{math.NaN(), math.Inf(1), math.Inf(-1)}).Draw(t, "bad")
		places := []*float64{
			&s.Scale, &s.Window[0], &s.Window[1], &s.Left.Px[0], &s.Left.PlaneMM[1], &s.Left.Semi[0],
			&s.Left.DirectionDeg,
			&s.Right.Px[1], &s.Right.PlaneMM[0], &s.Right.Semi[1], &s.Marks[0][3][0], &s.Marks[1][0][1],
			&s.Rejected[0].Px[1],
		}
		*places[rapid.IntRange(0, len(places)-1).Draw(t, "place")] = bad
		if img, err := Draw(s, 40); err == nil || img != nil {
			t.Fatal("drawn all the same")
		}
	})
}
