package relief

import (
	"math"
	"slices"

	"gonum.org/v1/gonum/mat"
)

// Patches are the places on the frame, mm, where nothing is printed for some 5 mm around: between the marks,
// all round.
var Patches = func() (p []Point) {
	for _, sx := range []float64{-1, 1} {
		for _, sy := range []float64{-1, 1} {
			p = append(p, Point{sx * 29.75, sy * 83}, Point{sx * 89.25, sy * 83}, Point{sx * 119, sy * 41.5})
		}
	}
	return p
}()

// PatchHalf is half the side of a patch, mm.
const PatchHalf = 5.0

// FrameLight is ln of the light that falls on the frame's plane, up to a constant, as a quadratic over the
// window. The zero FrameLight is even light.
type FrameLight struct{ c [6]float64 }

// FitFrameLight lays a quadratic through the light seen at the patches (linear light, NaN where a patch is
// not in the picture). With fewer than eight it returns even light and false.
func FitFrameLight(light []float64) (FrameLight, bool) {
	var rows [][6]float64
	var v []float64
	for i, l := range light {
		if i < len(Patches) && l > 0 && !math.IsInf(l, 1) {
			rows = append(rows, quadratic(Patches[i]))
			v = append(v, math.Log(math.Max(l, 1e-3)))
		}
	}
	if len(v) < 8 {
		return FrameLight{}, false
	}
	a := mat.NewDense(len(v), 6, nil)
	for i, r := range rows {
		a.SetRow(i, r[:])
	}
	var x mat.VecDense
	if err := x.SolveVec(a, mat.NewVecDense(len(v), v)); err != nil {
		return FrameLight{}, false
	}
	var f FrameLight
	copy(f.c[:], x.RawVector().Data)
	return f, true
}

// At is ln of the light at p.
func (f FrameLight) At(p Point) (l float64) {
	for k, v := range quadratic(p) {
		l += f.c[k] * v
	}
	return l
}

func quadratic(p Point) [6]float64 {
	x, y := p.X/lightScaleX, p.Y/lightScaleY
	return [6]float64{1, x, y, x * x, y * y, x * y}
}

// OverFrame compares the window with the frame's white: light is the brightness of its lighter parts over the
// frame's, dark and bright how far its darkest and brightest parts depart from its middle, in ln of light.
// What the light does on the frame is taken off first.
func (w Window) OverFrame() (light, dark, bright float64) {
	l, _ := logLight(w.Light)
	for i := range l {
		l[i] -= w.Frame.At(At(i))
	}
	slices.Sort(l)
	q := func(p float64) float64 { return l[int(p*float64(len(l)-1))] }
	return math.Exp(q(0.9)), q(0.75) - q(0.02), q(0.98) - q(0.75)
}
